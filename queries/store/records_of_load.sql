-- records_of_load: whole records of {table} that a load wrote, by key.
-- grain:  {key}
-- params: load_id
-- reads:  {table}
-- feeds:  store.writing
select {columns}
from {table}
where load_id = $load_id
order by {key}
