-- supplies_by_month: bins, bedding and worms given out, and bins that went out again.
-- grain:  model_id, supply_month
-- params: before_date
-- reads:  stage_givebacks, stage_handovers
-- feeds:  report.activity
with given as (
    select
        model_id,
        handover_month as supply_month,
        1 as bins,
        0 as reissued,
        bedding_kg,
        worms_kg,
    from stage_handovers
    where handover_date < $before_date
),

came_back as (
    select
        handovers.model_id,
        date_trunc('month', givebacks.giveback_date)::date as supply_month,
        0 as bins,
        1 as reissued,
        0.0 as bedding_kg,
        0.0 as worms_kg,
    from stage_givebacks as givebacks
    inner join stage_handovers as handovers using (handover_id)
    where givebacks.is_reissued and givebacks.giveback_date < $before_date
)

select
    model_id,
    supply_month,
    sum(bins)::bigint as bins_given,
    sum(reissued)::bigint as reissued_count,
    sum(bedding_kg::decimal(18, 12))::double as bedding_kg,
    sum(worms_kg::decimal(18, 12))::double as worms_kg,
from (
    select * from given
    union all
    select * from came_back
)
group by all
order by model_id, supply_month
