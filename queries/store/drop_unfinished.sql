-- drop_unfinished: take out contacts of loads that never ended.
-- grain:  household_id
-- params: known_load_ids
-- reads:  contacts
-- feeds:  store.contacts
delete from contacts
where not list_contains($known_load_ids::varchar[], load_id)
