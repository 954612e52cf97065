-- keys: the keys of {table}.
-- grain:  {key}
-- params:
-- reads:  {table}
-- feeds:  store.opening.Store.keys
select {key}
from {table}
order by {key}
