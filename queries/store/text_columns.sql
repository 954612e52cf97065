-- text_columns: columns of a file that hold text, and whether they may be empty.
-- grain:  table_name, column_name
-- params:
-- reads:
-- feeds:  store.blanking, store.scanning
select
    table_name,
    column_name,
    is_nullable,
from duckdb_columns()
join duckdb_tables() using (database_name, table_name)
where
    database_name = current_database()
    and not duckdb_tables.temporary
    and data_type like '%VARCHAR%'
order by table_name, column_name
