-- upcoming_events: hand-over days from a day on that were not cancelled, with the
--   places that are held at each.
-- grain:  event_date, event_id
-- params: from_date, before_date
-- reads:  events, areas, bookings
-- feeds:  ordering.inputs.read_inputs
with held as (
    select
        event_id,
        count(*) as booked_count,
        count(*) filter (where state = 'accepted') as accepted_count,
    from bookings
    where state in ('offered', 'accepted')
    group by event_id
)

select
    events.event_id,
    events.event_date,
    events.places_count,
    coalesce(events.event_kind, 'pick_up') as event_kind,
    coalesce(held.booked_count, 0) as booked_count,
    coalesce(held.accepted_count, 0) as accepted_count,
    events.area_id,
    coalesce(areas.area_name, '') as area_name,
    coalesce(events.venue, '') as venue,
from events
left join areas using (area_id)
left join held using (event_id)
where
    events.event_date >= $from_date
    and events.event_date < $before_date
    and coalesce(events.event_status, 'planned') <> 'cancelled'
order by events.event_date, events.event_id
