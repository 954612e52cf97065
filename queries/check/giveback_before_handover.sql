-- giveback_before_handover: bins that came back before they were given.
-- grain:  record_key
-- params:
-- reads:  givebacks, handovers
-- feeds:  checks.run_checks
select
    'wrong' as severity,
    'givebacks' as table_name,
    givebacks.handover_id as record_key,
    givebacks.giveback_date,
    handovers.handover_date,
from givebacks
inner join handovers using (handover_id)
where givebacks.giveback_date < handovers.handover_date
order by givebacks.handover_id
