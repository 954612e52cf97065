-- followup_register: households that hold a bin on a day, with all that tells whether a
--   call is due and allowed. One whose details were erased may not be contacted. The
--   day of an action counts only up to $on_date, and so does every other record.
-- grain:  household_id
-- params: on_date
-- reads:  households, erasures, stage_held_bins, stage_states, answers, calls, cases,
--         waves, samples
-- feeds:  field.calling
with last_state as (
    select
        household_id,
        max(state_date) as state_date,
        arg_max(is_in_use, state_date) as is_in_use,
    from stage_states
    where state_date <= $on_date
    group by household_id
),

told as (
    select
        household_id,
        max(answer_date) as last_answer_date,
        arg_max(trays_count, answer_date) filter (
            where trays_count is not null
        ) as trays_count,
        arg_max(fed_kg_last_week, answer_date) filter (
            where fed_kg_last_week is not null
        ) as fed_kg_last_week,
        arg_max(fed_litres_last_week, answer_date) filter (
            where fed_litres_last_week is not null
        ) as fed_litres_last_week,
        max(answer_date) filter (where castings_kg > 0) as harvest_date,
        max(answer_date) filter (
            where problem in ('worms_died', 'worms_escaped')
        ) as worms_lost_date,
    from answers
    where answer_date <= $on_date
    group by household_id
),

reached as (
    select household_id, max(call_date) as last_reached_date,
    from calls
    where call_date <= $on_date and call_outcome = 'reached'
    group by household_id
),

called as (
    select
        calls.household_id,
        max(calls.call_date) as last_call_date,
        bool_or(calls.call_outcome = 'refused') as has_refused,
        coalesce(
            arg_max(calls.call_outcome, calls.call_date) = 'wrong_number', false
        ) as has_wrong_number,
        any_value(reached.last_reached_date) as last_reached_date,
        count(*) filter (
            where calls.call_outcome = 'no_answer'
            and calls.call_date > coalesce(
                reached.last_reached_date, date '0001-01-01'
            )
        )::bigint as tries_count,
        max(calls.call_date) filter (
            where calls.call_outcome = 'reached' and calls.call_reason = 'another_tray'
        ) as tray_call_date,
        max(calls.call_date) filter (
            where calls.call_outcome = 'reached'
            and calls.call_reason = 'first_harvest'
        ) as harvest_call_date,
    from calls
    left join reached using (household_id)
    where calls.call_date <= $on_date
    group by calls.household_id
),

troubled as (
    select
        household_id,
        arg_min(problem, opened_date) filter (
            where coalesce(closed_date > $on_date, true)
            and coalesce(action_date > $on_date, true)
        ) as open_problem,
        max(opened_date) filter (
            where problem in ('worms_died', 'worms_escaped')
        ) as worms_lost_date,
        max(action_date) filter (
            where action_date <= $on_date
            and case_action in ('worms_topped_up', 'bin_replaced')
        ) as restocked_date,
    from cases
    where opened_date <= $on_date
    group by household_id
),

in_round as (
    select
        samples.household_id,
        min(waves.closes_date) as round_closes_date,
    from samples
    inner join waves using (wave_id)
    left join answers using (wave_id, household_id)
    where
        waves.opens_date <= $on_date
        and waves.closes_date >= $on_date
        and answers.household_id is null
    group by samples.household_id
)

select
    households.household_id,
    households.area_id,
    households.may_contact and erasures.household_id is null as may_contact,
    bins.model_id,
    bins.newest_handover_date as handover_date,
    date_diff('day', bins.newest_handover_date, $on_date)::bigint as age_days,
    last_state.is_in_use,
    last_state.state_date,
    told.fed_kg_last_week,
    told.fed_litres_last_week,
    told.last_answer_date,
    told.trays_count,
    told.harvest_date,
    greatest(told.worms_lost_date, troubled.worms_lost_date) as worms_lost_date,
    troubled.restocked_date,
    troubled.open_problem,
    called.last_call_date,
    called.last_reached_date,
    called.tray_call_date,
    called.harvest_call_date,
    coalesce(called.tries_count, 0) as tries_count,
    coalesce(called.has_refused, false) as has_refused,
    coalesce(called.has_wrong_number, false) as has_wrong_number,
    in_round.round_closes_date,
from households
inner join stage_held_bins as bins using (household_id)
left join erasures using (household_id)
left join last_state using (household_id)
left join told using (household_id)
left join called using (household_id)
left join troubled using (household_id)
left join in_round using (household_id)
where
    bins.newest_handover_date <= $on_date
    and coalesce(bins.all_back_date > $on_date, true)
order by households.household_id
