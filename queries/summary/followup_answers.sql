-- followup_answers: answers of follow-up rounds, each with the household's newest bin.
--   A bin that is known to have come back by the day of the answer is not in use.
-- grain:  wave_id, household_id
-- params: before_date
-- reads:  stage_answers, stage_givebacks, stage_handovers, stage_households,
--         stage_waves
-- feeds:  survey.retention, survey.feed
select
    answers.wave_id,
    answers.household_id,
    households.area_id,
    households.dwelling,
    handovers.model_id,
    handovers.handover_date,
    answers.answer_date,
    date_diff('day', handovers.handover_date, answers.answer_date)::bigint as age_days,
    answers.is_in_use and coalesce(
        givebacks.giveback_date > answers.answer_date, true
    ) as is_in_use,
    answers.fed_kg_last_week,
    answers.fed_litres_last_week,
from stage_answers as answers
inner join stage_waves as waves using (wave_id)
inner join stage_households as households using (household_id)
inner join stage_handovers as handovers using (household_id)
left join stage_givebacks as givebacks using (handover_id)
where
    waves.wave_kind = 'followup'
    and waves.opens_date < $before_date
    and answers.is_in_use is not null
    and handovers.handover_date <= answers.answer_date
qualify row_number() over (
    partition by answers.wave_id, answers.household_id
    order by handovers.handover_date desc, handovers.handover_id desc
) = 1
order by answers.wave_id, answers.household_id
