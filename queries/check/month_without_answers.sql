-- month_without_answers: months without an answer in the midst of a round.
-- grain:  record_key
-- params:
-- reads:  answers
-- feeds:  checks.run_checks
with edges as (
    select
        wave_id,
        date_trunc('month', min(answer_date)) as first_month,
        date_trunc('month', max(answer_date)) as last_month,
    from answers
    group by wave_id
),

months as (
    select
        wave_id,
        unnest(generate_series(first_month, last_month, interval 1 month)) as month,
    from edges
),

active as (
    select distinct
        wave_id,
        date_trunc('month', answer_date) as month,
    from answers
)

select
    'note' as severity,
    'answers' as table_name,
    months.wave_id || ' | ' || strftime(months.month, '%Y-%m') as record_key,
    months.wave_id,
    strftime(months.month, '%Y-%m') as month,
from months
anti join active using (wave_id, month)
order by record_key
