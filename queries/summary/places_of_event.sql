-- places_of_event: places held at one hand-over day, in order of their slots.
-- grain:  booking_id
-- params: event_id
-- reads:  bookings, registrations, households
-- feeds:  field.day.day_papers, field.delivering.deliver
select
    bookings.booking_id,
    bookings.household_id,
    bookings.event_id,
    bookings.offered_date,
    bookings.state,
    -- a spreadsheet's time comes as 9:30:00
    coalesce(left(cast(cast(bookings.slot as time) as varchar), 5), '') as slot,
    coalesce(bookings.model_id, registrations.model_id) as model_id,
    coalesce(registrations.access_need, 'none') as access_need,
    registrations.drop_point_id,
    households.area_id,
from bookings
left join registrations using (household_id)
inner join households using (household_id)
where
    bookings.event_id = $event_id
    and bookings.state in ('offered', 'accepted')
order by cast(bookings.slot as time) nulls first, bookings.booking_id
