-- changed_households: households of which two reports tell by their difference: those
--     of tables with late, corrected or withdrawn records, together with those of the
--     days between the two; and those of these days in all tables.
-- grain:  table_name
-- params: load_ids, before_date, until_date, tables
-- reads:  households, registrations, bookings, handovers, givebacks, samples, answers,
--     weighings, calls, cases, attendances, workshops, waves, history
-- feeds:  report.disclosure.control, store.undoing
with
kept as (
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
),

-- what a later load corrected or withdrew, as it was
former as (
    select
        history.table_name,
        coalesce(
            history.record ->> 'household_id', handovers.household_id
        ) as household_id,
        replaced_by_load_id as load_id,
        coalesce(
            history.record ->> 'giveback_date', history.record ->> 'handover_date',
            history.record ->> 'answer_date', history.record ->> 'week_start_date',
            history.record ->> 'offered_date', history.record ->> 'call_date',
            history.record ->> 'opened_date', history.record ->> 'registered_date',
            '0001-01-01'
        )::date as dated
    from history
    left join handovers on handovers.handover_id = history.record ->> 'handover_id'
    where
        history.table_name in (
            'households', 'registrations', 'bookings', 'handovers', 'givebacks',
            'samples', 'answers', 'weighings', 'calls', 'cases', 'attendances'
        )
),

changed as (
    -- what has no day counts in every report
    select
        table_name, household_id, load_id, coalesce(dated, '0001-01-01'::date) as dated,
    from kept
    where list_contains($tables::varchar[], table_name)
    union all
    select * from former
    where list_contains($tables::varchar[], table_name)
)

select
    table_name,
    count(distinct household_id)::bigint as households_count,
from changed
where
    dated >= $before_date and dated < $until_date
    or dated < $before_date and not list_contains($load_ids::varchar[], load_id)
group by table_name
having bool_or(dated < $before_date)
union all
select
    'the days between the two',
    count(distinct household_id)::bigint,
from changed
where dated >= $before_date and dated < $until_date
having count(*) > 0
order by table_name
