-- audits_by_arm: food found in audited residual bins, by arm and period.
-- grain:  arm, period
-- params: before_date
-- reads:  audits
-- feeds:  report.document.contents.Quality
select
    arm,
    period,
    count(*)::bigint as audits_count,
    count(distinct cluster_id)::bigint as clusters_count,
    sum(households_count)::bigint as households_count,
    (sum(food_kg) / sum(households_count))::double as food_kg_per_household_week,
    (
        sum(residual_kg) / sum(households_count)
    )::double as residual_kg_per_household_week,
from audits
where audit_date < $before_date
group by arm, period
order by arm, period
