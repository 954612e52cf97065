-- implausible_worms: bins given with fewer or more worms than a starter stock has.
-- grain:  record_key
-- params: least_worms_kg, most_worms_kg
-- reads:  handovers
-- feeds:  checks.run_checks
select
    'doubtful' as severity,
    'handovers' as table_name,
    handover_id as record_key,
    'given with ' || worms_kg || ' kg of worms' as found,
    'Check the unit: 250 g is 0.25 kg. Then correct worms_kg.' as advice,
from handovers
where worms_kg < $least_worms_kg or worms_kg > $most_worms_kg
order by handover_id
