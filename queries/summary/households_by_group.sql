-- households_by_group: households there are, registered, served; by area and dwelling.
-- grain:  area_id, dwelling
-- params: from_date, before_date
-- reads:  stage_areas, stage_dwellings, stage_households, stage_handovers
-- feeds:  sizing.groups
with first_bins as (
    select
        household_id,
        min(handover_date) as first_handover_date,
    from stage_handovers
    group by household_id
)

select
    areas.area_id,
    areas.area_name,
    areas.kerbside_service,
    areas.is_priority,
    dwellings.area_residents_count,
    dwellings.dwelling,
    dwellings.households_count,
    count(households.household_id) filter (
        where households.registered_date < $before_date
    )::bigint as registered_count,
    count(households.household_id) filter (
        where households.registered_date >= $from_date
        and households.registered_date < $before_date
    )::bigint as registered_in_year_count,
    count(households.household_id) filter (
        where first_bins.first_handover_date < $before_date
    )::bigint as served_count,
    coalesce(
        sum(households.people_count) filter (
            where households.registered_date < $before_date
        ), 0
    )::bigint as registered_people_count,
from stage_areas as areas
inner join stage_dwellings as dwellings using (area_id)
left join stage_households as households
    on households.area_id = areas.area_id
    and households.dwelling = dwellings.dwelling
left join first_bins using (household_id)
group by all
order by areas.area_id, dwellings.dwelling
