-- stage_order_lines: lines of orders with what has come of each.
-- grain:  order_line_id
-- params:
-- reads:  orders, deliveries
-- feeds:  stock_reconciled, orders_outstanding
with came as (
    select
        order_line_id,
        sum(received_quantity) as received_quantity,
        sum(short_quantity) as short_quantity,
    from deliveries
    group by order_line_id
)

select
    orders.order_line_id,
    orders.supplier_id,
    orders.item_kind,
    orders.item_id,
    case orders.item_kind
        when 'bins' then orders.item_id
        else orders.item_kind
    end as stock_item,
    orders.order_date,
    orders.delivery_date,
    orders.ordered_quantity,
    orders.goods_amount + orders.freight_amount as landed_amount,
    coalesce(came.received_quantity, 0.0) as received_quantity,
    coalesce(came.short_quantity, 0.0) as short_quantity,
    greatest(
        orders.ordered_quantity
        - coalesce(came.received_quantity, 0.0)
        - coalesce(came.short_quantity, 0.0),
        0.0
    ) as outstanding_quantity,
from orders
left join came using (order_line_id)
order by orders.order_line_id
