-- count_rows: how many rows a table of an attached file holds.
-- grain:  one row
-- params:
-- reads:  {alias}
-- feeds:  store.drafts
select count(*)::bigint as rows_count
from {alias}.{table}
