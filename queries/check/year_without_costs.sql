-- year_without_costs: reporting years with hand-overs and no line in the ledger.
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

served as (
    select
        years.label,
        years.from_date,
        years.before_date,
        count(*) as bins_count,
    from years
    inner join handovers
        on handovers.handover_date >= years.from_date
        and handovers.handover_date < years.before_date
    group by all
)

select
    'wrong' as severity,
    'costs' as table_name,
    served.label as record_key,
    served.bins_count,
    served.label,
from served
anti join costs
    on costs.cost_date >= served.from_date and costs.cost_date < served.before_date
order by served.label
