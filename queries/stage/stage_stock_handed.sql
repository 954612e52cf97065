-- stage_stock_handed: what left the stock with each bin given, to households and to
--   sites, worms that topped bins up, and bins that came back and were given again.
-- grain:  stock_item, moved_date
-- params:
-- reads:  handovers, givebacks, site_bins, cases
-- feeds:  stock_reconciled, stock_does_not_balance
with given as (
    select
        model_id,
        handover_date as given_date,
        1.0 as bins_count,
        worms_kg,
        bedding_kg,
    from handovers
    union all
    select model_id, given_date, bins_count, worms_kg, bedding_kg,
    from site_bins
),

moves as (
    select
        'bins' as item_kind,
        model_id as stock_item,
        given_date as moved_date,
        bins_count as handed_quantity,
        0.0 as returned_quantity,
    from given
    union all
    select 'worms', 'worms', given_date, worms_kg, 0.0
    from given
    union all
    select 'bedding', 'bedding', given_date, bedding_kg, 0.0
    from given
    union all
    select 'worms', 'worms', action_date, worms_kg, 0.0
    from cases
    where worms_kg > 0
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
