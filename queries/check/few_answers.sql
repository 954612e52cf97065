-- few_answers: closed rounds with too few answers to estimate from.
-- grain:  record_key
-- params: as_of, least_answers
-- reads:  waves, answers
-- feeds:  checks.run_checks
select
    'doubtful' as severity,
    'waves' as table_name,
    waves.wave_id as record_key,
    count(answers.household_id) as answers_count,
    $least_answers as least_answers,
from waves
left join answers using (wave_id)
where waves.closes_date < $as_of
group by waves.wave_id
having count(answers.household_id) < $least_answers
order by waves.wave_id
