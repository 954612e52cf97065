-- place_before_registration: places offered to households that had not asked yet.
--   A council that loads no requests keeps none: then nothing is missing.
-- grain:  record_key
-- params:
-- reads:  bookings, registrations
-- feeds:  checks.run_checks
select
    'doubtful' as severity,
    'bookings' as table_name,
    bookings.booking_id as record_key,
    bookings.household_id,
    bookings.offered_date,
    registrations.registered_date,
    case when registrations.household_id is null then 'unlisted' else 'early' end
        as found_as,
from bookings
left join registrations using (household_id)
where
    coalesce(bookings.offered_date < registrations.registered_date, true)
    and exists (from registrations)
order by bookings.booking_id
