-- drop_undone: take out the records of {table} that a load wrote.
-- grain:  {key}
-- params: load_id
-- reads:  {table}
-- feeds:  store.undoing
delete from {table}
where load_id = $load_id
