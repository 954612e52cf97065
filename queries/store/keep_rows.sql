-- keep_rows: keep the rows of a query under a name.
-- grain:  one table
-- params:
-- reads:
-- feeds:  store.opening, store.connection
create temporary table {name} as
{query}
