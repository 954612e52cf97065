-- implausible_feed: more food scraps in a week than a household has.
-- grain:  record_key
-- params: most_feed_kg, most_feed_litres
-- reads:  answers, weighings
-- feeds:  checks.run_checks
with reported as (
    select
        'answers' as table_name,
        wave_id || ' | ' || household_id as record_key,
        fed_kg_last_week as amount,
        $most_feed_kg::double as most,
        'kg' as unit,
    from answers
    union all
    select
        'answers' as table_name,
        wave_id || ' | ' || household_id as record_key,
        fed_litres_last_week as amount,
        $most_feed_litres::double as most,
        'litres' as unit,
    from answers
    union all
    select
        'weighings' as table_name,
        household_id || ' | ' || week_start_date as record_key,
        fed_kg as amount,
        $most_feed_kg::double as most,
        'kg' as unit,
    from weighings
)

select
    'doubtful' as severity,
    table_name,
    record_key,
    amount,
    unit as found_as,
from reported
where amount > most
order by table_name, record_key, unit
