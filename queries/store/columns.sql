-- columns: columns of a table as the file has them.
-- grain:  column_index
-- params: table_name
-- reads:
-- feeds:  tests of the store
select
    column_index,
    column_name,
    lower(data_type) as data_type,
    is_nullable,
from duckdb_columns()
where table_name = $table_name and not internal
order by column_index
