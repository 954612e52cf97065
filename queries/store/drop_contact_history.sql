-- drop_contact_history: take former contacts of some households out.
-- grain:  one form of one contact
-- params: households
-- reads:  history
-- feeds:  store.erasing
delete from history
where list_contains($households::varchar[], record_key)
