-- households_by_wave: households that each survey round speaks for, from the register.
--   A baseline speaks for all known by its last day, a followup for all that held a
--   bin by then; of those, whether all bins had come back when it opened, or the
--   household had told before that it had stopped: both are settled. Cohorts are
--   quarters of the first hand-over, of followups alone.
-- grain:  wave_id, area_id, dwelling, people, cohort, is_given_back, is_settled
-- params: before_date
-- reads:  stage_waves, stage_households, stage_handovers, stage_givebacks,
--         stage_answers
-- feeds:  survey.weights
with holders as (
    select
        waves.wave_id,
        handovers.household_id,
        min(handovers.handover_date) as first_handover_date,
        bool_and(
            coalesce(givebacks.giveback_date <= waves.opens_date, false)
        ) as is_given_back,
    from stage_waves as waves
    inner join stage_handovers as handovers
        on handovers.handover_date <= waves.closes_date
    left join stage_givebacks as givebacks using (handover_id)
    where waves.wave_kind = 'followup'
    group by waves.wave_id, handovers.household_id
),

told_before as (
    select
        holders.wave_id,
        holders.household_id,
        arg_max(answers.is_in_use, answers.answer_date) as last_told_in_use,
    from holders
    inner join stage_waves as waves using (wave_id)
    inner join stage_answers as answers
        on
            answers.household_id = holders.household_id
            and answers.answer_date < waves.opens_date
            and answers.answer_date >= holders.first_handover_date
    where
        answers.wave_id <> holders.wave_id
        and answers.is_in_use is not null
    group by holders.wave_id, holders.household_id
),

spoken_for as (
    select
        waves.wave_id,
        households.area_id,
        households.dwelling,
        case
            when households.people_count >= 4 then 4 else households.people_count
        end as people_count,
        date_trunc('quarter', holders.first_handover_date) as quarter,
        coalesce(holders.is_given_back, false) as is_given_back,
        coalesce(holders.is_given_back, false)
        or coalesce(not told_before.last_told_in_use, false) as is_settled,
    from stage_waves as waves
    inner join stage_households as households
        on households.known_date <= waves.closes_date
    left join holders using (wave_id, household_id)
    left join told_before using (wave_id, household_id)
    where
        waves.opens_date < $before_date
        and (waves.wave_kind = 'baseline' or holders.household_id is not null)
)

select
    spoken_for.wave_id,
    spoken_for.area_id,
    spoken_for.dwelling,
    case
        when spoken_for.people_count = 4 then '4 or more'
        else spoken_for.people_count::varchar
    end as people,
    coalesce(strftime(spoken_for.quarter, '%Y-%m'), 'none') as cohort,
    spoken_for.is_given_back,
    spoken_for.is_settled,
    count(*)::bigint as households_count,
from spoken_for
group by
    spoken_for.wave_id,
    spoken_for.area_id,
    spoken_for.dwelling,
    spoken_for.people_count,
    spoken_for.quarter,
    spoken_for.is_given_back,
    spoken_for.is_settled
order by
    spoken_for.wave_id,
    spoken_for.area_id,
    spoken_for.dwelling,
    people,
    cohort,
    spoken_for.is_given_back,
    spoken_for.is_settled
