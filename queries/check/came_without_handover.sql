-- came_without_handover: households that came to a day of which no bin is recorded.
-- grain:  record_key
-- params:
-- reads:  bookings, events, handovers
-- feeds:  checks.run_checks
select
    'wrong' as severity,
    'bookings' as table_name,
    bookings.booking_id as record_key,
    bookings.household_id,
    bookings.event_id,
from bookings
inner join events using (event_id)
-- a log of the day may leave the event out
anti join handovers
    on bookings.household_id = handovers.household_id
    and (
        bookings.event_id = handovers.event_id
        or (handovers.event_id is null and handovers.handover_date = events.event_date)
    )
where bookings.state = 'came'
order by bookings.booking_id
