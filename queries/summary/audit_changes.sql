-- audit_changes: food in the residual bins of each audited cluster, visit by visit.
--   Visits count from the giveaway: visit 1 before is the last before it, visit 1 after
--   the first after it. Audits of one cluster on one day are one visit.
-- grain:  arm, area_id, cluster_id, period, visit_number
-- params: before_date
-- reads:  audits
-- feeds:  survey.audit.change_scores
with visits as (
    select
        arm,
        area_id,
        cluster_id,
        period,
        audit_date,
        sum(households_count)::bigint as households_count,
        sum(food_kg)::double as food_kg,
    from audits
    where audit_date < $before_date
    group by all
)

select
    arm,
    area_id,
    cluster_id,
    period,
    row_number() over (
        partition by arm, area_id, cluster_id, period
        order by case
            when period = 'before' then -epoch(audit_date)
            else epoch(audit_date)
        end
    )::bigint as visit_number,
    audit_date,
    households_count,
    food_kg,
from visits
order by arm, area_id, cluster_id, period, visit_number
