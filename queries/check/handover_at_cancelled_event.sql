-- handover_at_cancelled_event: cancelled hand-over days at which bins were given.
-- grain:  record_key
-- params:
-- reads:  events, handovers
-- feeds:  checks.run_checks
select
    'doubtful' as severity,
    'events' as table_name,
    events.event_id as record_key,
    count(*) as bins_count,
from events
inner join handovers using (event_id)
where events.event_status = 'cancelled'
group by events.event_id
order by events.event_id
