-- restore_replaced: bring back contacts that a load which never ended had replaced.
-- grain:  household_id
-- params: known_load_ids
-- reads:  history
-- feeds:  store.contacts
insert into contacts by name
select {restored_columns}, load_id
from history
where
    not list_contains($known_load_ids::varchar[], replaced_by_load_id)
    and list_contains($known_load_ids::varchar[], load_id)
