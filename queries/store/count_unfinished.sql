-- count_unfinished: contacts that a load which never ended has left or replaced.
-- grain:  one row
-- params: known_load_ids
-- reads:  contacts, history
-- feeds:  store.contacts
with left_behind as (
    select load_id from contacts
    union all
    select replaced_by_load_id as load_id from history
)
select count(*)::bigint as rows_count
from left_behind
where not list_contains($known_load_ids::varchar[], load_id)
