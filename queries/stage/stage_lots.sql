-- stage_lots: each bin given, with the delivery that its worms came from: the last
--   one before its hand-over. Which box a starter was taken from is not recorded.
-- grain:  handover_id
-- params:
-- reads:  handovers, stage_deliveries
-- feeds:  problems_told, failures_by_lot, open_cases
with worms_came as (
    select
        min(delivery_id) as delivery_id,
        delivered_date,
    from stage_deliveries
    where item_kind = 'worms' and received_quantity > 0
    group by delivered_date
)

select
    handovers.handover_id,
    handovers.household_id,
    handovers.model_id,
    handovers.handover_date,
    worms_came.delivery_id,
from handovers
asof left join worms_came
    on handovers.handover_date >= worms_came.delivered_date
order by handovers.handover_id
