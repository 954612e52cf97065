-- place_left_open: places at hand-over days that are past, without a word of who came.
-- grain:  record_key
-- params: as_of
-- reads:  bookings, events
-- feeds:  checks.run_checks
select
    'doubtful' as severity,
    'bookings' as table_name,
    bookings.booking_id as record_key,
    bookings.household_id,
    bookings.state,
    events.event_date,
from bookings
inner join events using (event_id)
where
    bookings.state in ('offered', 'accepted')
    and events.event_date < $as_of
order by bookings.booking_id
