-- drop_stage_rows: let the rows of a stage query go that were kept for a while.
-- grain:  one table
-- params:
-- reads:
-- feeds:  store.opening
drop table {name}
