-- diary_pairs: what a diary household reported and what it weighed near that day.
--   Weeks that begin within $window_days of the answer count, but for those after the
--   household had told that it had stopped; their mean is taken.
-- grain:  wave_id, household_id
-- params: before_date, window_days
-- reads:  stage_who_was_asked, stage_answers, stage_weighings
-- feeds:  survey.feed
select
    asked.wave_id,
    asked.household_id,
    answers.fed_kg_last_week,
    answers.fed_litres_last_week,
    avg(weighings.fed_kg)::double as weighed_kg_per_week,
    count(*)::bigint as weeks_count,
from stage_who_was_asked as asked
inner join stage_answers as answers using (wave_id, household_id)
inner join stage_weighings as weighings
    on weighings.household_id = asked.household_id
    and abs(
        date_diff('day', answers.answer_date, weighings.week_start_date)
    ) <= $window_days
where
    asked.wave_kind = 'followup'
    and asked.opens_date < $before_date
    and weighings.week_start_date < $before_date
    and not weighings.is_stopped
    and not asked.is_given_back
    and answers.is_in_use
    and asked.first_handover_date <= answers.answer_date
    and (
        answers.fed_kg_last_week is not null
        or answers.fed_litres_last_week is not null
    )
group by all
order by asked.wave_id, asked.household_id
