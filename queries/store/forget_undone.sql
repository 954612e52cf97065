-- forget_undone: drop the history that a load wrote, once its records are back.
-- grain:  table_name, record_key
-- params: load_id
-- reads:  history
-- feeds:  store.undoing
delete from history
where replaced_by_load_id = $load_id
