-- households_by_wave: households that each survey round speaks for, from the register.
--   A baseline speaks for all registered by its last day, a followup for all that held
--   a bin by then; of those, whether all bins had come back when it opened. Cohorts are
--   quarters of the first hand-over, of followups alone.
-- grain:  wave_id, area_id, dwelling, people, cohort, is_given_back
-- params: before_date
-- reads:  stage_waves, stage_households, stage_handovers, stage_givebacks
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

spoken_for as (
    select
        waves.wave_id,
        households.area_id,
        households.dwelling,
        case
            when households.people_count >= 4 then '4 or more'
            else households.people_count::varchar
        end as people,
        coalesce(
            strftime(date_trunc('quarter', holders.first_handover_date), '%Y-%m'),
            'none'
        ) as cohort,
        coalesce(holders.is_given_back, false) as is_given_back,
    from stage_waves as waves
    inner join stage_households as households
        on households.registered_date <= waves.closes_date
    left join holders using (wave_id, household_id)
    where
        waves.opens_date < $before_date
        and (waves.wave_kind = 'baseline' or holders.household_id is not null)
)

select
    spoken_for.wave_id,
    spoken_for.area_id,
    spoken_for.dwelling,
    spoken_for.people,
    spoken_for.cohort,
    spoken_for.is_given_back,
    count(*)::bigint as households_count,
from spoken_for
group by all
order by
    spoken_for.wave_id,
    spoken_for.area_id,
    spoken_for.dwelling,
    spoken_for.people,
    spoken_for.cohort,
    spoken_for.is_given_back
