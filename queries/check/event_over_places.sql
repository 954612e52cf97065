-- event_over_places: hand-over days with more bins given than there were places.
-- grain:  record_key
-- params:
-- reads:  events, handovers
-- feeds:  checks.run_checks
select
    'doubtful' as severity,
    'events' as table_name,
    events.event_id as record_key,
    count(*) as bins_count,
    events.places_count,
from events
inner join handovers using (event_id)
group by events.event_id, events.places_count
having count(*) > events.places_count
order by events.event_id
