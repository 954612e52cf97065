-- keep_stage_rows: keep the rows of a stage query under its own name.
-- grain:  one table
-- params:
-- reads:
-- feeds:  store.opening
create temporary table {name} as
{query}
