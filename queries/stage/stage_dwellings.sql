-- stage_dwellings: households of each area by dwelling, beside the area's people.
-- grain:  area_id, dwelling
-- params:
-- reads:  areas
-- feeds:  households_by_group
select
    area_id,
    unnest(['house', 'townhouse', 'apartment']) as dwelling,
    unnest([houses_count, townhouses_count, apartments_count])::bigint
        as households_count,
    residents_count as area_residents_count,
from areas
order by area_id, dwelling
