-- came_without_handover: households that came to a day of which no bin is recorded.
-- grain:  record_key
-- params:
-- reads:  bookings, handovers
-- feeds:  checks.run_checks
select
    'wrong' as severity,
    'bookings' as table_name,
    bookings.booking_id as record_key,
    bookings.household_id,
    bookings.event_id,
from bookings
anti join handovers using (household_id, event_id)
where bookings.state = 'came'
order by bookings.booking_id
