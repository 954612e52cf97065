-- load_ids: identities of every load that was taken in to the end and stands.
-- grain:  load_id
-- params:
-- reads:  loads, undone_loads
-- feeds:  store.contacts, store.writing
select load_id
from loads
anti join undone_loads using (load_id)
order by load_id
