-- count_rows: how many rows a table holds.
-- grain:  one row
-- params:
-- reads:  {table}
-- feeds:  store.drafts, store.scanning
select count(*)::bigint as rows_count
from {table}
