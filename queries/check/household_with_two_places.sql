-- household_with_two_places: households that hold more than one place, or a place
--   beside a bin that they were given elsewhere.
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
    'household ' || household_id || ' holds ' || count(*) || ' places: '
    || string_agg(booking_id || ' at ' || event_id, ', ' order by booking_id) as found,
    'Write declined or moved for all but one of them.' as advice,
from held
group by household_id
having count(*) > 1
union all
select
    'wrong',
    'bookings',
    booking_id,
    'household ' || household_id || ' has had a bin since ' || handover_date
    || ' and holds a place at ' || event_id,
    'Write moved for the place, so that the next in line can have it.',
from elsewhere
order by record_key
