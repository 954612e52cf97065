-- handover_before_registration: bins given before the household registered.
-- grain:  record_key
-- params:
-- reads:  handovers, households
-- feeds:  checks.run_checks
select
    'wrong' as severity,
    'handovers' as table_name,
    handovers.handover_id as record_key,
    handovers.handover_date,
    handovers.household_id,
    households.registered_date,
from handovers
inner join households using (household_id)
where handovers.handover_date < households.registered_date
order by handovers.handover_id
