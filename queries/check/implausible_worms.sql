-- implausible_worms: bins given with fewer or more worms than a starter stock has.
-- grain:  record_key
-- params: least_worms_kg, most_worms_kg
-- reads:  handovers
-- feeds:  checks.run_checks
select
    'doubtful' as severity,
    'handovers' as table_name,
    handover_id as record_key,
    worms_kg,
from handovers
where worms_kg < $least_worms_kg or worms_kg > $most_worms_kg
order by handover_id
