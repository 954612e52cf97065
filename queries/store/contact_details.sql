-- contact_details: what the contacts and their history hold of some households, in the
--   columns that contacts of every age have.
-- grain:  one form of one contact
-- params: households
-- reads:  contacts, history
-- feeds:  store.erasing
select 'contacts' as place, household_id, full_name, street_address, email, phone
from contacts
where list_contains($households::varchar[], household_id)
union all
select
    'history' as place,
    record ->> '$.household_id' as household_id,
    record ->> '$.full_name' as full_name,
    record ->> '$.street_address' as street_address,
    record ->> '$.email' as email,
    record ->> '$.phone' as phone,
from history
where list_contains($households::varchar[], record_key)
