-- year_without_followup: reporting years with bins out and no follow-up round.
-- grain:  record_key
-- params: labels, from_dates, before_dates, as_of
-- reads:  handovers, waves
-- feeds:  checks.run_checks
with years as (
    select
        unnest($labels::varchar[]) as label,
        unnest($from_dates::date[]) as from_date,
        unnest($before_dates::date[]) as before_date,
),

begun as (
    select
        years.label,
        years.from_date,
        years.before_date,
        count(*) as bins_count,
    from years
    inner join handovers on handovers.handover_date < years.before_date
    where years.before_date <= $as_of
    group by all
)

select
    'doubtful' as severity,
    'waves' as table_name,
    begun.label as record_key,
    begun.bins_count,
    begun.label,
from begun
anti join waves
    on waves.wave_kind = 'followup'
    and waves.opens_date >= begun.from_date
    and waves.opens_date < begun.before_date
order by begun.label
