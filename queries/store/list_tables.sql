-- list_tables: tables of an attached file.
-- grain:  table_name
-- params: file_name
-- reads:
-- feeds:  store.drafts
select table_name
from duckdb_tables()
where database_name = $file_name and not temporary
order by table_name
