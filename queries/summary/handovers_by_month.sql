-- handovers_by_month: bins handed over before a day, by group, model and month.
-- grain:  area_id, dwelling, model_id, handover_month
-- params: before_date
-- reads:  stage_handovers, stage_households
-- feeds:  diversion.cohorts, diversion.feed_share
select
    households.area_id,
    households.dwelling,
    handovers.model_id,
    handovers.handover_month,
    count(*)::bigint as bins_given,
    sum(handovers.worms_kg)::double as worms_kg,
    sum(handovers.copayment)::double as copayment,
from stage_handovers as handovers
inner join stage_households as households using (household_id)
where handovers.handover_date < $before_date
group by all
order by
    households.area_id,
    households.dwelling,
    handovers.model_id,
    handovers.handover_month
