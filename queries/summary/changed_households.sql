-- changed_households: households of which a table has rows that came after a report.
-- grain:  table_name
-- params: load_ids, before_date
-- reads:  households, registrations, bookings, handovers, givebacks, samples, answers,
--     weighings, calls, cases, attendances, workshops, waves
-- feeds:  report.issues
with
changed as (
    select 'households' as table_name, household_id, load_id, registered_date as dated
    from households
    union all
    select 'registrations', household_id, load_id, registered_date
    from registrations
    union all
    select 'bookings', household_id, load_id, offered_date
    from bookings
    union all
    select 'handovers', household_id, load_id, handover_date
    from handovers
    union all
    select 'givebacks', handovers.household_id, givebacks.load_id, giveback_date
    from givebacks
    join handovers using (handover_id)
    union all
    select 'samples', household_id, samples.load_id, opens_date
    from samples
    join waves using (wave_id)
    union all
    select 'answers', household_id, load_id, answer_date
    from answers
    union all
    select 'weighings', household_id, load_id, week_start_date
    from weighings
    union all
    select 'calls', household_id, load_id, call_date
    from calls
    union all
    select 'cases', household_id, load_id, opened_date
    from cases
    union all
    select 'attendances', household_id, attendances.load_id, workshop_date
    from attendances
    join workshops using (workshop_id)
)

select
    table_name,
    count(distinct household_id)::bigint as households_count,
from changed
where not list_contains($load_ids::varchar[], load_id) and dated < $before_date
group by table_name
order by table_name
