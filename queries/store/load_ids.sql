-- load_ids: identities of every load that was taken in to the end.
-- grain:  load_id
-- params:
-- reads:  loads
-- feeds:  store.contacts, store.writing
select load_id
from loads
order by load_id
