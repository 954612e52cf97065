-- fed_while_out_of_use: bins out of use that were fed in the week of the answer.
-- grain:  record_key
-- params:
-- reads:  answers
-- feeds:  checks.run_checks
select
    'doubtful' as severity,
    'answers' as table_name,
    wave_id || ' | ' || household_id as record_key,
    fed_kg_last_week,
    fed_litres_last_week,
    case
        when coalesce(fed_kg_last_week, 0.0) <> 0.0 then 'kg'
        else 'litres'
    end as found_as,
from answers
where not is_in_use and (fed_kg_last_week > 0.0 or fed_litres_last_week > 0.0)
order by wave_id, household_id
