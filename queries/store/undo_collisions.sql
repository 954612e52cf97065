-- undo_collisions: records a load replaced or withdrew that a later load wrote again.
-- grain:  {key}
-- params: load_id, table_name
-- reads:  history, {table}
-- feeds:  store.undoing
with stored as (
    select concat_ws(' | ', {key_text}) as record_key, load_id as later_load_id
    from {table}
    where load_id <> $load_id
)
select history.table_name, history.record_key, stored.later_load_id
from history
inner join stored using (record_key)
where history.replaced_by_load_id = $load_id and history.table_name = $table_name
order by history.table_name, history.record_key
