-- wave_frames: for each survey round the households asked and whether each answered.
--   A round with rows in samples asked those drawn. A round without asked everyone: all
--   registered households (baseline), or all that held a bin when it opened (followup),
--   each with probability 1 in a stratum of area and dwelling.
-- grain:  wave_id, household_id
-- params: before_date
-- reads:  stage_waves, samples, stage_households, stage_handovers, stage_answers
-- feeds:  survey.weights
with drawn as (
    select
        samples.wave_id,
        samples.household_id,
        samples.stratum,
        samples.inclusion_probability,
    from samples
),

first_bins as (
    select
        household_id,
        min(handover_date) as first_handover_date,
    from stage_handovers
    group by household_id
),

asked_all as (
    select
        waves.wave_id,
        households.household_id,
        households.area_id || ' ' || households.dwelling as stratum,
        1.0::double as inclusion_probability,
    from stage_waves as waves
    inner join stage_households as households
        on households.registered_date <= waves.closes_date
    left join first_bins using (household_id)
    where
        waves.wave_id not in (select wave_id from drawn)
        and (
            waves.wave_kind = 'baseline'
            or first_bins.first_handover_date <= waves.opens_date
        )
),

asked as (
    select * from drawn
    union all
    select * from asked_all
)

select
    asked.wave_id,
    waves.wave_kind,
    waves.opens_date,
    asked.household_id,
    households.area_id,
    households.dwelling,
    asked.stratum,
    asked.inclusion_probability,
    case
        when waves.wave_kind = 'baseline'
            then answers.prior_residual_bin_share is not null
        else answers.is_in_use is not null
    end as has_answered,
from asked
inner join stage_waves as waves using (wave_id)
inner join stage_households as households using (household_id)
left join stage_answers as answers using (wave_id, household_id)
where waves.opens_date < $before_date
order by asked.wave_id, asked.household_id
