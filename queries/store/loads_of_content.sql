-- loads_of_content: loads of a file with exactly this content.
-- grain:  load_id
-- params: sha256
-- reads:  loads
-- feeds:  store.Store.earlier_refusals
select load_id
from loads
where sha256 = $sha256
order by load_id
