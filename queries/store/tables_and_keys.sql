-- tables_and_keys: tables of a file, and whether each has a key to look up by.
-- grain:  table_name
-- params:
-- reads:
-- feeds:  store.sealing
select
    table_name,
    coalesce(bool_or(constraint_type in ('PRIMARY KEY', 'UNIQUE')), false) as has_key,
from duckdb_tables()
left join duckdb_constraints() using (database_name, table_name)
where database_name = current_database() and not temporary
group by table_name
order by table_name
