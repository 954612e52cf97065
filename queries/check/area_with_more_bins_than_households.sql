-- area_with_more_bins_than_households: areas with more bins out than households.
-- grain:  record_key
-- params:
-- reads:  areas, households, handovers, givebacks
-- feeds:  checks.run_checks
select
    'wrong' as severity,
    'areas' as table_name,
    areas.area_id as record_key,
    count(*) as bins_count,
    areas.houses_count + areas.townhouses_count + areas.apartments_count
        as households_count,
from areas
inner join households using (area_id)
inner join handovers using (household_id)
anti join givebacks using (handover_id)
group by
    areas.area_id,
    areas.houses_count,
    areas.townhouses_count,
    areas.apartments_count
having
    count(*) > areas.houses_count + areas.townhouses_count + areas.apartments_count
order by areas.area_id
