-- restore_undone: bring back the records of {table} that a load replaced or withdrew.
-- grain:  {key}
-- params: load_id, table_name
-- reads:  history
-- feeds:  store.undoing
insert into {table} by name
select {restored_columns}, load_id
from history
where replaced_by_load_id = $load_id and table_name = $table_name
