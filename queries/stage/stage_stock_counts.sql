-- stage_stock_counts: counts of stock by item as it is stored.
-- grain:  stock_item, count_date
-- params:
-- reads:  stock_counts
-- feeds:  stock_reconciled, stock_does_not_balance
select
    item_kind,
    case item_kind when 'bins' then item_id else item_kind end as stock_item,
    count_date,
    sum(counted_quantity)::double as counted_quantity,
    sum(lost_quantity)::double as lost_quantity,
from stock_counts
group by all
order by stock_item, count_date
