-- upcoming_events: hand-over days from a day on that were not cancelled.
-- grain:  event_date, event_id
-- params: from_date, before_date
-- reads:  events, areas
-- feeds:  ordering.inputs.read_inputs
select
    events.event_id,
    events.event_date,
    events.places_count,
    coalesce(areas.area_name, '') as area_name,
    coalesce(events.venue, '') as venue,
from events
left join areas using (area_id)
where
    events.event_date >= $from_date
    and events.event_date < $before_date
    and coalesce(events.event_status, 'planned') <> 'cancelled'
order by events.event_date, events.event_id
