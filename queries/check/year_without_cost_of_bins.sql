-- year_without_cost_of_bins: reporting years with bins given and none paid.
-- grain:  record_key
-- params: labels, from_dates, before_dates
-- reads:  handovers, costs
-- feeds:  checks.run_checks
with years as (
    select
        unnest($labels::varchar[]) as label,
        unnest($from_dates::date[]) as from_date,
        unnest($before_dates::date[]) as before_date,
),

booked as (
    select
        years.label,
        years.from_date,
        years.before_date,
        count(*) filter (where costs.category = 'bins') as lines_for_bins,
    from years
    inner join costs
        on costs.cost_date >= years.from_date and costs.cost_date < years.before_date
    group by all
)

select
    'note' as severity,
    'costs' as table_name,
    booked.label as record_key,
    booked.label,
from booked
semi join handovers
    on handovers.handover_date >= booked.from_date
    and handovers.handover_date < booked.before_date
where booked.lines_for_bins = 0
order by booked.label
