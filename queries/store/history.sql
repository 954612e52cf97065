-- history: records that a later load replaced, as they were.
-- grain:  table_name, record_key, replaced_by_load_id
-- params:
-- reads:  history
-- feeds:  tests of the store
select
    table_name,
    record_key,
    record,
    load_id,
    replaced_by_load_id,
    replaced_at,
from history
order by table_name, record_key, replaced_by_load_id
