-- answer_without_bin: follow-up answers of households that were never given a bin.
-- grain:  record_key
-- params:
-- reads:  answers, waves, handovers
-- feeds:  checks.run_checks
select
    'wrong' as severity,
    'answers' as table_name,
    answers.wave_id || ' | ' || answers.household_id as record_key,
    answers.answer_date,
from answers
inner join waves using (wave_id)
anti join handovers using (household_id)
where waves.wave_kind = 'followup'
order by answers.wave_id, answers.household_id
