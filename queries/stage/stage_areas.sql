-- stage_areas: reporting areas with their households.
-- grain:  area_id
-- params:
-- reads:  areas
-- feeds:  bins_by_area, households_by_group, prior_shares
select
    area_id,
    area_name,
    kerbside_service,
    is_priority,
    houses_count + townhouses_count + apartments_count as households_count,
from areas
order by area_id
