-- turnout_by_event: of the places held on the day, who came and who stayed away untold.
--   Households that declined or moved had told ahead and left their place to others.
-- grain:  event_date, event_id
-- params: before_date
-- reads:  bookings, events
-- feeds:  ordering.inputs.read_inputs, sizing.context.Evidence,
--         field.booking.book_places
select
    events.event_id,
    events.event_date,
    count(*) filter (where bookings.state = 'came') as came_count,
    count(*) filter (where bookings.state = 'absent') as absent_count,
from bookings
inner join events using (event_id)
where
    events.event_date < $before_date
    and bookings.state in ('came', 'absent')
    and coalesce(events.event_kind, 'pick_up') = 'pick_up'
group by events.event_id, events.event_date
order by events.event_date, events.event_id
