-- bins_held: bins that a household holds, with what it last said it fed in a week.
-- grain:  handover_id
-- params: household_id
-- reads:  stage_handovers, stage_givebacks, stage_answers
-- feeds:  field.feeding_of.fed_and_bins
with last_fed as (
    select household_id, arg_max(fed_kg_last_week, answer_date) as fed_kg_last_week
    from stage_answers
    where fed_kg_last_week is not null
    group by household_id
)

select
    handovers.handover_id,
    handovers.model_id,
    handovers.handover_date,
    handovers.worms_kg,
    last_fed.fed_kg_last_week,
from stage_handovers as handovers
left join stage_givebacks as givebacks using (handover_id)
left join last_fed using (household_id)
where
    handovers.household_id = $household_id
    and givebacks.handover_id is null
order by handovers.handover_id
