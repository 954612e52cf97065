-- came_beyond_places: hand-over days to which more came than there were places.
-- grain:  record_key
-- params:
-- reads:  bookings, events
-- feeds:  checks.run_checks
select
    'doubtful' as severity,
    'events' as table_name,
    events.event_id as record_key,
    count(*) as came_count,
    events.places_count,
from bookings
inner join events using (event_id)
where bookings.state = 'came'
group by events.event_id, events.places_count
having count(*) > events.places_count
order by events.event_id
