-- prior_main_route_only: rounds in which answers say only where most scraps went.
-- grain:  record_key
-- params:
-- reads:  answers
-- feeds:  checks.run_checks
with routes as (
    select
        wave_id,
        prior_main_route is not null
        and 1.0 = case prior_main_route
            when 'residual_bin' then prior_residual_bin_share
            when 'garden_compost' then prior_garden_compost_share
            when 'kerbside_organics' then prior_kerbside_organics_share
            when 'animals' then prior_animals_share
            else prior_other_share
        end as is_main_only,
    from answers
    where prior_residual_bin_share is not null
)

select
    'note' as severity,
    'answers' as table_name,
    wave_id as record_key,
    count(*) filter (where is_main_only) as answers_count,
    count(*) as all_count,
from routes
group by wave_id
having answers_count > 0
order by wave_id
