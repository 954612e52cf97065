-- came_without_handover: households that came to a day of which no bin is recorded.
-- grain:  record_key
-- params:
-- reads:  bookings, handovers
-- feeds:  checks.run_checks
select
    'wrong' as severity,
    'bookings' as table_name,
    bookings.booking_id as record_key,
    'household ' || bookings.household_id || ' came to ' || bookings.event_id
    || ', and no bin was given to it there' as found,
    'Load the hand-over, or write absent for the state.' as advice,
from bookings
anti join handovers using (household_id, event_id)
where bookings.state = 'came'
order by bookings.booking_id
