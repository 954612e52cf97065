-- stage_who_was_asked: households asked in each survey round, and what is known of
--   their bins by then. A round with rows in samples asked those drawn. A round
--   without asked everyone: all registered by its last day (baseline), or all that
--   held a bin by then (followup), each with probability 1 in a stratum of area and
--   dwelling. A baseline asks what went where before the bin, so one without a sample
--   asked no household that had its bin before it opened, unless it answered.
--   A household whose bins had all come back when a followup opened needs no answer.
-- grain:  wave_id, household_id
-- params:
-- reads:  stage_waves, samples, stage_households, stage_handovers, stage_givebacks,
--         stage_answers
-- feeds:  diary_pairs, diary_weeks, followup_answers, prior_shares, sampling_register,
--         use_intervals, wave_frames
with bins_by_wave as (
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
    group by waves.wave_id, handovers.household_id
),

drawn as (
    select
        samples.wave_id,
        samples.household_id,
        samples.stratum,
        coalesce(samples.cluster_id, samples.household_id) as unit_id,
        samples.inclusion_probability,
    from samples
),

asked_all as (
    select
        waves.wave_id,
        households.household_id,
        households.area_id || ' ' || households.dwelling as stratum,
        households.household_id as unit_id,
        1.0::double as inclusion_probability,
    from stage_waves as waves
    inner join stage_households as households
        on households.registered_date <= waves.closes_date
    left join bins_by_wave as bins using (wave_id, household_id)
    left join stage_answers as answers using (wave_id, household_id)
    where
        waves.wave_id not in (select drawn.wave_id from drawn)
        and (
            case waves.wave_kind
                when 'baseline' then
                    coalesce(bins.first_handover_date >= waves.opens_date, true)
                    or answers.household_id is not null
                else bins.household_id is not null
            end
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
    asked.unit_id,
    asked.inclusion_probability,
    bins_by_wave.first_handover_date,
    waves.wave_kind = 'followup'
    and coalesce(bins_by_wave.is_given_back, false) as is_given_back,
from asked
inner join stage_waves as waves using (wave_id)
inner join stage_households as households using (household_id)
left join bins_by_wave using (wave_id, household_id)
order by asked.wave_id, asked.household_id
