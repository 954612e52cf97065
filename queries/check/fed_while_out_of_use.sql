-- fed_while_out_of_use: bins out of use that were fed in the week of the answer.
-- grain:  record_key
-- params:
-- reads:  answers
-- feeds:  checks.run_checks
select
    'doubtful' as severity,
    'answers' as table_name,
    wave_id || ' | ' || household_id as record_key,
    'is_in_use is no, fed ' || coalesce(
        nullif(fed_kg_last_week, 0.0) || ' kg', fed_litres_last_week || ' litres'
    ) as found,
    'Correct is_in_use, or write 0 for what was fed.' as advice,
from answers
where not is_in_use and (fed_kg_last_week > 0.0 or fed_litres_last_week > 0.0)
order by wave_id, household_id
