-- keys: the keys of {table}.
-- grain:  {key}
-- params:
-- reads:  {table}
-- feeds:  store.Store.keys
select {key}
from {table}
order by {key}
