-- stratum_with_one_answer: strata of a closed round with one answer or none.
-- grain:  record_key
-- params: as_of
-- reads:  waves, samples, answers
-- feeds:  checks.run_checks
select
    case when count(answers.household_id) = 0 then 'doubtful' else 'note' end
        as severity,
    'samples' as table_name,
    waves.wave_id || ' | ' || samples.stratum as record_key,
    count(answers.household_id) as answers_count,
    count(*) as asked_count,
    samples.stratum,
from waves
inner join samples using (wave_id)
left join answers using (wave_id, household_id)
where waves.closes_date < $as_of
group by waves.wave_id, samples.stratum
having count(answers.household_id) <= 1
order by waves.wave_id, samples.stratum
