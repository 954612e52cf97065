-- stage_who_was_asked: households asked in each survey round, and what is known of
--   their bins by then. A round with rows in samples asked those drawn. A round
--   without asked everyone: all known by its last day (baseline), or all that
--   held a bin by then (followup), each with probability 1 in a stratum of area and
--   dwelling. A baseline asks what went where before the bin, so one without a sample
--   asked no household that had its bin before it opened, unless it answered. Every
--   household whose bins had all come back when a followup opened stands for itself,
--   drawn or not; is_drawn tells which, and is true of all where none of them was
--   drawn. What a household told of its bin before the round opened
--   stays known; a bin that came back is out of use whatever was said later. Of those
--   drawn to be asked again, the probability with which they were, among the silent.
-- grain:  wave_id, household_id
-- params:
-- reads:  waves, stage_waves, samples, stage_households, stage_holdings, stage_answers
-- feeds:  answer_not_counted, diary_pairs, diary_weeks, followup_answers, prior_shares,
--         sampling_register, silent_register, use_intervals, wave_frames
with drawn as (
    select
        samples.wave_id,
        samples.household_id,
        samples.stratum,
        coalesce(samples.cluster_id, samples.household_id) as unit_id,
        samples.inclusion_probability,
    from samples
),

drawn_again as (
    select
        waves.follows_wave_id as wave_id,
        samples.household_id,
        max(samples.inclusion_probability) as again_probability,
    from waves
    inner join samples using (wave_id)
    where waves.follows_wave_id is not null
    group by waves.follows_wave_id, samples.household_id
),

known_without_asking as (
    select
        waves.wave_id,
        holdings.household_id,
        households.area_id || ' ' || households.dwelling as stratum,
        holdings.household_id as unit_id,
        1.0::double as inclusion_probability,
    from stage_waves as waves
    inner join stage_holdings as holdings
        on
            holdings.all_back_date <= waves.opens_date
            and holdings.from_date <= waves.closes_date
            and holdings.until_date > waves.closes_date
    inner join stage_households as households using (household_id)
    where
        waves.wave_kind = 'followup'
        -- few are back: the others are left out before they are set against rounds
        and holdings.all_back_date < date '9999-12-31'
        and waves.wave_id in (select drawn.wave_id from drawn)
),

unsampled as (
    select
        waves.wave_id,
        waves.wave_kind,
        waves.opens_date,
        waves.closes_date,
    from stage_waves as waves
    where waves.wave_id not in (select drawn.wave_id from drawn)
),

asked_all as (
    select
        waves.wave_id,
        households.household_id,
        households.area_id || ' ' || households.dwelling as stratum,
        households.household_id as unit_id,
        1.0::double as inclusion_probability,
    from unsampled as waves
    inner join stage_households as households
        on households.known_date <= waves.closes_date
    left join stage_holdings as holdings
        on
            holdings.household_id = households.household_id
            and holdings.from_date <= waves.closes_date
            and holdings.until_date > waves.closes_date
    left join stage_answers as answers
        on
            answers.wave_id = waves.wave_id
            and answers.household_id = households.household_id
    where
        case waves.wave_kind
            when 'baseline' then
                coalesce(holdings.first_handover_date >= waves.opens_date, true)
                or answers.household_id is not null
            else holdings.household_id is not null
        end
),

asked as (
    select
        drawn.*,
        true as is_drawn,
    from drawn
    anti join known_without_asking using (wave_id, household_id)
    union all
    select
        known.*,
        drawn.household_id is not null
        or count(drawn.household_id) over (partition by known.wave_id) = 0 as is_drawn,
    from known_without_asking as known
    left join drawn using (wave_id, household_id)
    union all
    select
        asked_all.*,
        true as is_drawn,
    from asked_all
),

reported_before as (
    select
        asked.wave_id,
        asked.household_id,
        arg_max(answers.is_in_use, answers.answer_date) as last_reported_in_use,
    from asked
    inner join stage_waves as waves using (wave_id)
    inner join stage_holdings as holdings
        on
            holdings.household_id = asked.household_id
            and holdings.from_date <= waves.closes_date
            and holdings.until_date > waves.closes_date
    inner join stage_answers as answers
        on
            answers.household_id = asked.household_id
            and answers.answer_date < waves.opens_date
            and answers.answer_date >= holdings.first_handover_date
    where
        waves.wave_kind = 'followup'
        and answers.wave_id <> asked.wave_id
        and answers.is_in_use is not null
    group by asked.wave_id, asked.household_id
)

select
    asked.wave_id,
    waves.wave_kind,
    waves.opens_date,
    asked.household_id,
    households.area_id,
    households.dwelling,
    case
        when households.people_count >= 4 then '4 or more'
        else households.people_count::varchar
    end as people,
    coalesce(households.channel, 'unknown') as channel,
    asked.stratum,
    asked.unit_id,
    asked.inclusion_probability,
    asked.is_drawn,
    drawn_again.again_probability,
    holdings.first_handover_date,
    waves.wave_kind = 'followup'
    and coalesce(holdings.all_back_date <= waves.opens_date, false) as is_given_back,
    reported_before.last_reported_in_use,
from asked
inner join stage_waves as waves on waves.wave_id = asked.wave_id
inner join stage_households as households
    on households.household_id = asked.household_id
left join stage_holdings as holdings
    on
        holdings.household_id = asked.household_id
        and holdings.from_date <= waves.closes_date
        and holdings.until_date > waves.closes_date
left join drawn_again
    on
        drawn_again.wave_id = asked.wave_id
        and drawn_again.household_id = asked.household_id
left join reported_before
    on
        reported_before.wave_id = asked.wave_id
        and reported_before.household_id = asked.household_id
order by asked.wave_id, asked.household_id
