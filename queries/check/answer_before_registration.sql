-- answer_before_registration: answers given before the household registered.
-- grain:  record_key
-- params:
-- reads:  answers, households
-- feeds:  checks.run_checks
select
    'doubtful' as severity,
    'answers' as table_name,
    answers.wave_id || ' | ' || answers.household_id as record_key,
    'answered ' || answers.answer_date || ', registered ' || households.registered_date
        || ', and counts as known from its answer on' as found,
    'Correct registered_date or answer_date, if one of them is wrong.' as advice,
from answers
inner join households using (household_id)
where answers.answer_date < households.registered_date
order by answers.wave_id, answers.household_id
