-- drop_rows: let the rows of a query go that were kept for a while.
-- grain:  one table
-- params:
-- reads:
-- feeds:  store.opening, store.connection
drop table {name}
