-- place_before_registration: places offered to households that had not asked yet.
-- grain:  record_key
-- params:
-- reads:  bookings, registrations
-- feeds:  checks.run_checks
select
    'doubtful' as severity,
    'bookings' as table_name,
    bookings.booking_id as record_key,
    case
        when registrations.household_id is null
            then 'household ' || bookings.household_id || ' is not on the waiting list'
        else 'offered ' || bookings.offered_date || ', household '
            || bookings.household_id || ' asked on ' || registrations.registered_date
    end as found,
    'Correct offered_date, or load the registration of the household.' as advice,
from bookings
left join registrations using (household_id)
where coalesce(bookings.offered_date < registrations.registered_date, true)
order by bookings.booking_id
