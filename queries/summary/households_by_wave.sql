-- households_by_wave: households that each survey round speaks for, from the register.
--   A baseline speaks for all known by its last day, a followup for all that held a
--   bin by then; of those, whether all bins had come back when it opened, or the
--   household had told before that it had stopped: both are settled. Cohorts are
--   quarters of the first hand-over, of followups alone.
-- grain:  wave_id, area_id, dwelling, people, cohort, is_given_back, is_settled
-- params: before_date
-- reads:  stage_waves, stage_households, stage_holdings, stage_answers
-- feeds:  survey.weights
with reported_before as (
    select
        waves.wave_id,
        answers.household_id,
        arg_max(answers.is_in_use, answers.answer_date) as last_reported_in_use,
    from stage_waves as waves
    inner join stage_answers as answers
        on
            answers.answer_date < waves.opens_date
            and answers.wave_id <> waves.wave_id
    inner join stage_holdings as holdings
        on
            holdings.household_id = answers.household_id
            and holdings.from_date <= waves.closes_date
            and holdings.until_date > waves.closes_date
            and holdings.first_handover_date <= answers.answer_date
    where
        waves.wave_kind = 'followup'
        and answers.is_in_use is not null
    group by waves.wave_id, answers.household_id
),

spoken_for as (
    select
        waves.wave_id,
        households.area_id,
        households.dwelling,
        case
            when households.people_count >= 4 then 4 else households.people_count
        end as people_count,
        null::date as quarter,
        false as is_given_back,
        false as is_settled,
    from stage_waves as waves
    inner join stage_households as households
        on households.known_date <= waves.closes_date
    where
        waves.wave_kind = 'baseline'
        and waves.opens_date < $before_date
    union all
    select
        waves.wave_id,
        households.area_id,
        households.dwelling,
        case
            when households.people_count >= 4 then 4 else households.people_count
        end as people_count,
        date_trunc('quarter', holdings.first_handover_date)::date as quarter,
        holdings.all_back_date <= waves.opens_date as is_given_back,
        holdings.all_back_date <= waves.opens_date
        or coalesce(not reported_before.last_reported_in_use, false) as is_settled,
    from stage_waves as waves
    inner join stage_holdings as holdings
        on
            holdings.from_date <= waves.closes_date
            and holdings.until_date > waves.closes_date
    inner join stage_households as households
        on
            households.household_id = holdings.household_id
            and households.known_date <= waves.closes_date
    left join reported_before
        on
            reported_before.wave_id = waves.wave_id
            and reported_before.household_id = holdings.household_id
    where
        waves.wave_kind = 'followup'
        and waves.opens_date < $before_date
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
