-- handover_off_event_day: bins given on another date than their hand-over day.
-- grain:  record_key
-- params:
-- reads:  handovers, events
-- feeds:  checks.run_checks
select
    'note' as severity,
    'handovers' as table_name,
    handovers.handover_id as record_key,
    handovers.handover_date,
    events.event_id,
    events.event_date,
from handovers
inner join events using (event_id)
where handovers.handover_date != events.event_date
order by handovers.handover_id
