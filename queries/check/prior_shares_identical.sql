-- prior_shares_identical: rounds in which every household gave the same prior shares.
-- grain:  record_key
-- params: least_same_answers
-- reads:  answers
-- feeds:  checks.run_checks
with shares as (
    select
        wave_id,
        count(*) as answers_count,
        count(
            distinct row(
                prior_residual_bin_share,
                prior_garden_compost_share,
                prior_kerbside_organics_share,
                prior_animals_share,
                prior_other_share
            )
        ) as distinct_count,
    from answers
    where prior_residual_bin_share is not null and prior_main_route is null
    group by wave_id
)

select
    'doubtful' as severity,
    'answers' as table_name,
    wave_id as record_key,
    answers_count,
from shares
where distinct_count = 1 and answers_count >= $least_same_answers
order by wave_id
