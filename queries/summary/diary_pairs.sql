-- diary_pairs: what a diary household reported and what it weighed near that day.
--   Weeks that begin within $window_days of the answer count; their mean is taken.
-- grain:  wave_id, household_id
-- params: before_date, window_days
-- reads:  stage_answers, stage_waves, weighings
-- feeds:  survey.feed
select
    answers.wave_id,
    answers.household_id,
    answers.fed_kg_last_week,
    answers.fed_litres_last_week,
    avg(weighings.fed_kg)::double as weighed_kg_per_week,
    count(*)::bigint as weeks_count,
from stage_answers as answers
inner join stage_waves as waves using (wave_id)
inner join weighings
    on weighings.household_id = answers.household_id
    and abs(
        date_diff('day', answers.answer_date, weighings.week_start_date)
    ) <= $window_days
where
    waves.wave_kind = 'followup'
    and waves.opens_date < $before_date
    and answers.is_in_use
    and (
        answers.fed_kg_last_week is not null
        or answers.fed_litres_last_week is not null
    )
group by all
order by answers.wave_id, answers.household_id
