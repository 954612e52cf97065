-- bins_by_area: bins given and households served, to date and in the reporting year.
-- grain:  area_id
-- params: from_date, before_date
-- reads:  stage_areas, stage_households, stage_handovers
-- feeds:  diversion.area_differences, report.figures.tonnes, report.disclosure,
--     report.acquittal
select
    areas.area_id,
    areas.area_name,
    areas.kerbside_service,
    areas.is_priority,
    areas.households_count,
    avg(households.people_count) filter (
        where handovers.handover_id is not null
    ) as people_per_household,
    count(handovers.handover_id)::bigint as bins_given_to_date,
    count(handovers.handover_id) filter (
        where handovers.handover_date >= $from_date
    )::bigint as bins_given_in_year,
    count(distinct handovers.household_id)::bigint as households_served_to_date,
    count(distinct handovers.household_id) filter (
        where handovers.handover_date >= $from_date
    )::bigint as households_served_in_year,
from stage_areas as areas
left join stage_households as households using (area_id)
left join stage_handovers as handovers
    on handovers.household_id = households.household_id
    and handovers.handover_date < $before_date
group by all
order by areas.area_id
