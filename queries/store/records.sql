-- records: every record of {table}, in the order of its key.
-- grain:  {key}
-- params:
-- reads:  {table}
-- feeds:  store.opening.Store.records
select {columns}
from {table}
order by {key}
