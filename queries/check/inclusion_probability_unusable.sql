-- inclusion_probability_unusable: sampled households without a usable probability.
-- grain:  record_key
-- params:
-- reads:  samples
-- feeds:  checks.run_checks
select
    'wrong' as severity,
    'samples' as table_name,
    wave_id || ' | ' || household_id as record_key,
    inclusion_probability,
    case when inclusion_probability is null then 'missing' else 'given' end as found_as,
from samples
where coalesce(inclusion_probability <= 0.0 or inclusion_probability > 1.0, true)
order by wave_id, household_id
