-- undo_blockers: records that a load wrote and a later load has replaced or withdrawn.
-- grain:  table_name, record_key
-- params: load_id
-- reads:  history
-- feeds:  store.undoing
select
    table_name,
    record_key,
    replaced_by_load_id as later_load_id,
from history
where load_id = $load_id
order by table_name, record_key, later_load_id
