-- date_outside_reporting_years: dates outside every reporting year.
-- grain:  record_key
-- params: from_dates, before_dates
-- reads:  handovers, answers, costs
-- feeds:  checks.run_checks
with years as (
    select
        unnest($from_dates::date[]) as from_date,
        unnest($before_dates::date[]) as before_date,
),

dated as (
    select
        'handovers' as table_name,
        handover_id as record_key,
        handover_date as record_date,
    from handovers
    union all
    select
        'answers' as table_name,
        wave_id || ' | ' || household_id as record_key,
        answer_date as record_date,
    from answers
    union all
    select
        'costs' as table_name,
        cost_id as record_key,
        cost_date as record_date,
    from costs
)

select
    'doubtful' as severity,
    dated.table_name,
    dated.record_key,
    dated.record_date,
from dated
anti join years
    on dated.record_date >= years.from_date and dated.record_date < years.before_date
order by dated.table_name, dated.record_key
