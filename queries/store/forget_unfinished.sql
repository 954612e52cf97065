-- forget_unfinished: drop the history that loads which never ended had written.
-- grain:  household_id, replaced_by_load_id
-- params: known_load_ids
-- reads:  history
-- feeds:  store.contacts
delete from history
where not list_contains($known_load_ids::varchar[], replaced_by_load_id)
