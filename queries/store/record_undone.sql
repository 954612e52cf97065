-- record_undone: note that a load was taken back.
-- grain:  one row
-- params: load_id, undone_at, households_count
-- reads:
-- feeds:  store.undoing
insert into undone_loads (load_id, undone_at, households_count)
values ($load_id, $undone_at, $households_count)
