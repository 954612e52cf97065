-- stage_stock_handed: what left the stock with each bin given, and bins that came
--   back and were given again.
-- grain:  stock_item, moved_date
-- params:
-- reads:  handovers, givebacks
-- feeds:  stock_reconciled, stock_does_not_balance
with moves as (
    select
        'bins' as item_kind,
        model_id as stock_item,
        handover_date as moved_date,
        1.0 as handed_quantity,
        0.0 as returned_quantity,
    from handovers
    union all
    select 'worms', 'worms', handover_date, worms_kg, 0.0
    from handovers
    union all
    select 'bedding', 'bedding', handover_date, bedding_kg, 0.0
    from handovers
    union all
    select 'bins', handovers.model_id, givebacks.giveback_date, 0.0, 1.0
    from givebacks
    inner join handovers using (handover_id)
    where givebacks.is_reissued
)

select
    item_kind,
    stock_item,
    moved_date,
    sum(handed_quantity)::double as handed_quantity,
    sum(returned_quantity)::double as returned_quantity,
from moves
group by all
order by stock_item, moved_date
