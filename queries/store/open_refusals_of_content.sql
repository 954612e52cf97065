-- open_refusals_of_content: rows refused in earlier loads of this content, still open.
-- grain:  table_name, sheet, row_number
-- params: sha256
-- reads:  loads, refusals
-- feeds:  store.opening.Store.earlier_refusals
select distinct
    refusals.table_name,
    refusals.sheet,
    refusals.row_number,
from refusals
inner join loads using (load_id)
where loads.sha256 = $sha256 and refusals.resolved_by_load_id is null
order by refusals.table_name, refusals.sheet, refusals.row_number
