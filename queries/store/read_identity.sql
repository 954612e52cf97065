-- read_identity: the mark of the store.
-- grain:  one row
-- params:
-- reads:  store_identity
-- feeds:  store.opening
select store_id
from store_identity
order by store_id
