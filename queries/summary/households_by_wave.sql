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
        and waves.opens_date < $before_date
        and answers.is_in_use is not null
    group by waves.wave_id, answers.household_id
),

homes as (
    select
        household_id,
        area_id,
        dwelling,
        case when people_count >= 4 then 4 else people_count end as people_count,
        known_date,
    from stage_households
),

held as (
    select
        homes.area_id,
        homes.dwelling,
        homes.people_count,
        date_trunc('quarter', holdings.first_handover_date)::date as quarter,
        greatest(holdings.from_date, homes.known_date) as from_date,
        holdings.until_date,
        holdings.all_back_date,
        count(*) as households_count,
    from stage_holdings as holdings
    inner join homes using (household_id)
    group by all
),

-- those that told that they had stopped are taken from the unsettled
stopped as (
    select
        reported_before.wave_id,
        homes.area_id,
        homes.dwelling,
        homes.people_count,
        date_trunc('quarter', holdings.first_handover_date)::date as quarter,
        false as is_given_back,
        unnest([false, true]) as is_settled,
        unnest([-1, 1]) as households_count,
    from reported_before
    inner join stage_waves as waves using (wave_id)
    inner join stage_holdings as holdings
        on
            holdings.household_id = reported_before.household_id
            and holdings.from_date <= waves.closes_date
            and holdings.until_date > waves.closes_date
            and holdings.all_back_date > waves.opens_date
    inner join homes
        on
            homes.household_id = holdings.household_id
            and homes.known_date <= waves.closes_date
    where not reported_before.last_reported_in_use
),

spoken_for as (
    select
        waves.wave_id,
        homes.area_id,
        homes.dwelling,
        homes.people_count,
        null::date as quarter,
        false as is_given_back,
        false as is_settled,
        1 as households_count,
    from stage_waves as waves
    inner join homes
        on homes.known_date <= waves.closes_date
    where
        waves.wave_kind = 'baseline'
        and waves.opens_date < $before_date
    union all
    select
        waves.wave_id,
        held.area_id,
        held.dwelling,
        held.people_count,
        held.quarter,
        held.all_back_date <= waves.opens_date as is_given_back,
        is_given_back as is_settled,
        held.households_count,
    from stage_waves as waves
    inner join held
        on
            held.from_date <= waves.closes_date
            and held.until_date > waves.closes_date
    where
        waves.wave_kind = 'followup'
        and waves.opens_date < $before_date
    union all
    select * from stopped
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
    sum(spoken_for.households_count)::bigint as households_count,
from spoken_for
group by
    spoken_for.wave_id,
    spoken_for.area_id,
    spoken_for.dwelling,
    spoken_for.people_count,
    spoken_for.quarter,
    spoken_for.is_given_back,
    spoken_for.is_settled
having sum(spoken_for.households_count) > 0
order by
    spoken_for.wave_id,
    spoken_for.area_id,
    spoken_for.dwelling,
    people,
    cohort,
    spoken_for.is_given_back,
    spoken_for.is_settled
