-- weighing_before_bin: weighed weeks that begin before the household had a bin.
-- grain:  record_key
-- params:
-- reads:  weighings, handovers
-- feeds:  checks.run_checks
with first_bins as (
    select
        household_id,
        min(handover_date) as first_handover_date,
    from handovers
    group by household_id
)

select
    'wrong' as severity,
    'weighings' as table_name,
    weighings.household_id || ' | ' || weighings.week_start_date as record_key,
    weighings.week_start_date,
    first_bins.first_handover_date,
    case when first_bins.first_handover_date is null then 'no_bin' else 'early' end
        as found_as,
from weighings
left join first_bins using (household_id)
where coalesce(weighings.week_start_date < first_bins.first_handover_date, true)
order by weighings.household_id, weighings.week_start_date
