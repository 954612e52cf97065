-- handovers_by_month: bins given before a day, by area, dwelling, model and month.
--   Estimates follow households from their first bin: a second takes no more scraps.
-- grain:  area_id, dwelling, model_id, handover_month
-- params: before_date
-- reads:  stage_handovers, stage_households
-- feeds:  diversion.cohorts, diversion.feed_share
with numbered as (
    select
        *,
        row_number() over (
            partition by household_id
            order by handover_date, handover_id
        ) as bin_number,
    from stage_handovers
)

select
    households.area_id,
    households.dwelling,
    handovers.model_id,
    handovers.handover_month,
    count(*)::bigint as bins_given,
    count(*) filter (where handovers.bin_number = 1)::bigint as households_begun,
    sum(handovers.worms_kg)::double as worms_kg,
    count(*) filter (where handovers.worms_kg > 0)::bigint as starters_count,
    sum(handovers.copayment)::double as copayment,
from numbered as handovers
inner join stage_households as households using (household_id)
where handovers.handover_date < $before_date
group by all
order by
    households.area_id,
    households.dwelling,
    handovers.model_id,
    handovers.handover_month
