-- handover_off_event_day: bins given on another date than their hand-over day.
-- grain:  record_key
-- params:
-- reads:  handovers, events
-- feeds:  checks.run_checks
select
    'note' as severity,
    'handovers' as table_name,
    handovers.handover_id as record_key,
    'given ' || handovers.handover_date || ', hand-over day ' || events.event_id
    || ' held ' || events.event_date as found,
    'Correct handover_date or event_id.' as advice,
from handovers
inner join events using (event_id)
where handovers.handover_date != events.event_date
order by handovers.handover_id
