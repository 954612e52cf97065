-- loads_of_content: standing loads of a file with exactly this content.
-- grain:  load_id
-- params: sha256
-- reads:  loads, undone_loads
-- feeds:  store.opening.Store.earlier_refusals
select load_id
from loads
anti join undone_loads using (load_id)
where sha256 = $sha256
order by load_id
