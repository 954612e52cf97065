-- household_with_two_places: households that hold more than one place.
-- grain:  record_key
-- params:
-- reads:  bookings
-- feeds:  checks.run_checks
select
    'wrong' as severity,
    'bookings' as table_name,
    max(booking_id) as record_key,
    'household ' || household_id || ' holds ' || count(*) || ' places: '
    || string_agg(booking_id || ' at ' || event_id, ', ' order by booking_id) as found,
    'Write declined or moved for all but one of them.' as advice,
from bookings
where state in ('offered', 'accepted')
group by household_id
having count(*) > 1
order by record_key
