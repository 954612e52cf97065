-- household_with_two_places: households with two places, or one and a bin.
-- grain:  record_key
-- params:
-- reads:  bookings, handovers, givebacks
-- feeds:  checks.run_checks
with held as (
    select *
    from bookings
    where state in ('offered', 'accepted')
),

elsewhere as (
    select
        held.booking_id,
        held.household_id,
        held.event_id,
        min(handovers.handover_date) as handover_date,
    from held
    inner join handovers using (household_id)
    anti join givebacks on givebacks.handover_id = handovers.handover_id
    where handovers.event_id is distinct from held.event_id
    group by all
)

select
    'wrong' as severity,
    'bookings' as table_name,
    max(booking_id) as record_key,
    'places' as found_as,
    found_as as advice_as,
    household_id,
    count(*) as places_count,
    string_agg(booking_id || ' (' || event_id || ')', ', ' order by booking_id)
        as places,
    null::date as handover_date,
    null as event_id,
from held
group by household_id
having count(*) > 1
union all
select
    'wrong',
    'bookings',
    booking_id,
    'bin',
    'bin',
    household_id,
    null,
    null,
    handover_date,
    event_id,
from elsewhere
order by record_key
