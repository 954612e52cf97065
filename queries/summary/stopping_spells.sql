-- stopping_spells: times between two days on which a household's bin was known of,
--   from one on which it was in use; the last of a household not known to have stopped
--   runs to $on_date and ends in nothing known. What was told, reached, attended or
--   complained of counts up to the day on which a spell begins. Of bins kept nothing is
--   heard between rounds: a bin that came back counts from the day on which the next
--   follow-up opens, and not before one has.
-- grain:  household_id, start_age_days
-- params: on_date, kg_per_litre
-- reads:  stage_states, stage_held_bins, households, calls, cases, attendances,
--         workshops, stage_waves
-- feeds:  field.calling
with known as (
    select
        household_id,
        state_date,
        is_in_use,
        problem,
        coalesce(fed_kg, fed_litres * $kg_per_litre) as fed_kg,
        lead(state_date) over later as end_date,
        lead(is_in_use) over later as is_in_use_at_end,
        lead(ends_by_giveback) over later as ends_by_giveback,
        bool_and(is_in_use) over (
            partition by household_id
            order by state_date
            rows between unbounded preceding and current row
        ) as is_in_use_so_far,
    from stage_states
    where state_date <= $on_date
    window later as (partition by household_id order by state_date)
),

spells as (
    select
        household_id,
        state_date as start_date,
        case
            when ends_by_giveback then (
                select min(rounds.opens_date)
                from stage_waves as rounds
                where
                    rounds.wave_kind = 'followup'
                    and rounds.opens_date > known.end_date
                    and rounds.opens_date <= $on_date
            )
            else coalesce(end_date, $on_date)
        end as end_date,
        problem,
        fed_kg,
        not is_in_use_at_end as has_stopped,
        coalesce(ends_by_giveback, false) as ends_by_giveback,
    from known
    where is_in_use_so_far
),

reached as (
    select household_id, min(call_date) as first_reached_date,
    from calls
    where call_outcome = 'reached'
    group by household_id
),

troubled as (
    select household_id, min(opened_date) as first_opened_date,
    from cases
    group by household_id
),

taught as (
    select attendances.household_id, min(workshops.workshop_date) as first_taught_date,
    from attendances
    inner join workshops using (workshop_id)
    group by attendances.household_id
)

select
    spells.household_id,
    households.area_id,
    households.dwelling,
    case
        when households.people_count >= 4 then '4 or more'
        else households.people_count::varchar
    end as people,
    coalesce(households.channel, 'unknown') as channel,
    bins.model_id,
    case
        when spells.start_date = bins.first_handover_date then 'hand-over'
        when spells.problem is null or spells.problem = 'none' then 'none told'
        else 'problem told'
    end as reported_state,
    case
        when spells.fed_kg is null then 'not told'
        when spells.fed_kg < 1.0 then 'under 1 kg'
        when spells.fed_kg < 2.0 then '1 to 2 kg'
        else '2 kg or more'
    end as reported_feed,
    coalesce(troubled.first_opened_date <= spells.start_date, false)
        as has_complained,
    coalesce(reached.first_reached_date <= spells.start_date, false)
        as is_reached,
    coalesce(taught.first_taught_date <= spells.start_date, false) as is_taught,
    date_diff('day', bins.first_handover_date, spells.start_date)::bigint
        as start_age_days,
    date_diff('day', bins.first_handover_date, spells.end_date)::bigint
        as end_age_days,
    spells.has_stopped,
    spells.ends_by_giveback,
from spells
inner join households using (household_id)
inner join stage_held_bins as bins using (household_id)
left join reached using (household_id)
left join troubled using (household_id)
left join taught using (household_id)
where spells.end_date > spells.start_date
order by spells.household_id, start_age_days
