-- has_table: whether the file has a table of that name.
-- grain:  one row
-- params: table_name
-- reads:
-- feeds:  store.migrations
select count(*)::bigint as tables_count
from duckdb_tables()
where table_name = $table_name and not temporary
