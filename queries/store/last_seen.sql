-- last_seen: date of the newest record of each household.
-- grain:  household_id
-- params:
-- reads:  households, registrations, bookings, handovers, givebacks, answers,
--         weighings, calls, cases, attendances, workshops
-- feeds:  store.keeping
with dated as (
    select household_id, registered_date as seen_date from households
    union all
    select household_id, handover_date from handovers
    union all
    select handovers.household_id, givebacks.giveback_date
    from givebacks
    inner join handovers using (handover_id)
    union all
    select household_id, answer_date from answers
    union all
    select household_id, week_start_date from weighings
    union all
    select household_id, call_date from calls where call_outcome = 'reached'
    union all
    select household_id, opened_date from cases
    union all
    select attendances.household_id, workshops.workshop_date
    from attendances
    inner join workshops using (workshop_id)
    union all
    select household_id, registered_date from registrations
    union all
    select household_id, offered_date from bookings
)
select household_id, max(seen_date) as seen_date
from dated
group by household_id
order by household_id
