-- undo_counts: how many records of {table} a load wrote, and how many it replaced.
-- grain:  one row
-- params: load_id, table_name
-- reads:  history, {table}
-- feeds:  store.undoing
select
    (select count(*) from {table} where load_id = $load_id)::bigint as written_count,
    (
        select count(*)
        from history
        where replaced_by_load_id = $load_id and table_name = $table_name
    )::bigint as returned_count,
