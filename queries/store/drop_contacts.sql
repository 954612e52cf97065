-- drop_contacts: take the contacts of some households out.
-- grain:  household_id
-- params: households
-- reads:  contacts
-- feeds:  store.erasing
delete from contacts
where list_contains($households::varchar[], household_id)
