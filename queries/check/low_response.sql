-- low_response: closed rounds that few of the households asked have answered.
-- grain:  record_key
-- params: as_of, least_response_share
-- reads:  waves, samples, answers
-- feeds:  checks.run_checks
select
    'doubtful' as severity,
    'waves' as table_name,
    waves.wave_id as record_key,
    round(100.0 * count(answers.household_id) / count(*))::bigint
        as answered_percent,
    count(*) as asked_count,
from waves
inner join samples using (wave_id)
left join answers using (wave_id, household_id)
where waves.closes_date < $as_of
group by waves.wave_id
having count(answers.household_id) < $least_response_share * count(*)
order by waves.wave_id
