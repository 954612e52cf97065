-- orders_outstanding: lines of orders of which something is still to come after a day.
-- grain:  order_line_id
-- params: as_of
-- reads:  stage_orders, stage_deliveries
-- feeds:  ordering.steps.read_inputs
with came as (
    select
        order_line_id,
        sum(received_quantity + short_quantity) as settled_quantity,
    from stage_deliveries
    where delivered_date <= $as_of
    group by order_line_id
)

select
    orders.order_line_id,
    orders.supplier_id,
    orders.item_kind,
    orders.item_id,
    orders.stock_item,
    orders.delivery_date,
    orders.ordered_quantity - coalesce(came.settled_quantity, 0.0)
        as outstanding_quantity,
    orders.landed_amount,
from stage_orders as orders
left join came using (order_line_id)
where
    orders.order_date <= $as_of
    and orders.ordered_quantity > coalesce(came.settled_quantity, 0.0)
order by orders.order_line_id
