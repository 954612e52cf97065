-- inclusion_probability_unusable: sampled households without a usable probability.
-- grain:  record_key
-- params:
-- reads:  samples
-- feeds:  checks.run_checks
select
    'wrong' as severity,
    'samples' as table_name,
    wave_id || ' | ' || household_id as record_key,
    'inclusion_probability ' || coalesce(inclusion_probability::varchar, 'missing')
        as found,
    'Write the share of its stratum that was drawn, above 0 and at most 1.' as advice,
from samples
where coalesce(inclusion_probability <= 0.0 or inclusion_probability > 1.0, true)
order by wave_id, household_id
