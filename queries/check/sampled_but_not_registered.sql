-- sampled_but_not_registered: households drawn that are not in the register.
-- grain:  record_key
-- params:
-- reads:  samples, households
-- feeds:  checks.run_checks
select
    'wrong' as severity,
    'samples' as table_name,
    samples.wave_id || ' | ' || samples.household_id as record_key,
    samples.household_id,
from samples
anti join households using (household_id)
order by samples.wave_id, samples.household_id
