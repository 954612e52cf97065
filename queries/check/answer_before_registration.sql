-- answer_before_registration: answers given before the household registered.
-- grain:  record_key
-- params:
-- reads:  answers, households
-- feeds:  checks.run_checks
select
    'doubtful' as severity,
    'answers' as table_name,
    answers.wave_id || ' | ' || answers.household_id as record_key,
    answers.answer_date,
    households.registered_date,
from answers
inner join households using (household_id)
where answers.answer_date < households.registered_date
order by answers.wave_id, answers.household_id
