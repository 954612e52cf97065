-- answer_outside_round: answers dated before their round opened or after it closed.
-- grain:  record_key
-- params:
-- reads:  answers, waves
-- feeds:  checks.run_checks
select
    'doubtful' as severity,
    'answers' as table_name,
    answers.wave_id || ' | ' || answers.household_id as record_key,
    answers.answer_date,
    waves.opens_date,
    waves.closes_date,
from answers
inner join waves using (wave_id)
where answers.answer_date not between waves.opens_date and waves.closes_date
order by answers.wave_id, answers.household_id
