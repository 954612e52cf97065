-- stage_orders: lines of orders with the item as it is stored.
-- grain:  order_line_id
-- params:
-- reads:  orders
-- feeds:  stock_reconciled, orders_committed
select
    order_line_id,
    supplier_id,
    offer_id,
    item_kind,
    item_id,
    case item_kind when 'bins' then item_id else item_kind end as stock_item,
    order_date,
    delivery_date,
    packs_count,
    ordered_quantity,
    goods_amount,
    goods_amount + freight_amount as landed_amount,
from orders
order by order_line_id
