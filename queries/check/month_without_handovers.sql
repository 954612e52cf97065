-- month_without_handovers: months without a hand-over between months that have some.
-- grain:  record_key
-- params:
-- reads:  handovers
-- feeds:  checks.run_checks
with edges as (
    select
        date_trunc('month', min(handover_date)) as first_month,
        date_trunc('month', max(handover_date)) as last_month,
    from handovers
),

months as (
    select unnest(generate_series(first_month, last_month, interval 1 month)) as month,
    from edges
),

active as (
    select distinct date_trunc('month', handover_date) as month,
    from handovers
)

select
    'note' as severity,
    'handovers' as table_name,
    strftime(months.month, '%Y-%m') as record_key,
    strftime(months.month, '%Y-%m') as month,
from months
anti join active using (month)
order by record_key
