-- sampled_without_consent: households drawn for a round that may not be contacted.
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
inner join households using (household_id)
where not households.may_contact
order by samples.wave_id, samples.household_id
