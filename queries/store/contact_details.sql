-- contact_details: what the contacts and their history hold of some households.
-- grain:  one form of one contact
-- params: households
-- reads:  contacts, history
-- feeds:  store.erasing
select 'contacts' as place, {columns}
from contacts
where list_contains($households::varchar[], household_id)
union all
select 'history' as place, {restored_columns}
from history
where list_contains($households::varchar[], record_key)
