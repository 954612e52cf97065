-- orders_committed: lines of orders up to a day: what is to come, their cost and when.
--   What is short will not come and is not paid. A line that has not come is paid when
--   it does: on the day agreed, or from the day on where that has passed.
-- grain:  order_line_id
-- params: as_of
-- reads:  stage_orders, stage_deliveries
-- feeds:  ordering.inputs.read_inputs
with came as (
    select
        order_line_id,
        sum(received_quantity) as received_quantity,
        sum(short_quantity) as short_quantity,
        min(delivered_date) as first_delivered_date,
        max(delivered_date) as last_delivered_date,
    from stage_deliveries
    where delivered_date <= $as_of
    group by order_line_id
)

select
    orders.order_line_id,
    orders.supplier_id,
    orders.offer_id,
    orders.item_kind,
    orders.item_id,
    orders.stock_item,
    orders.delivery_date,
    orders.packs_count,
    greatest(
        orders.ordered_quantity
        - coalesce(came.received_quantity + came.short_quantity, 0.0),
        0.0
    ) as outstanding_quantity,
    orders.landed_amount - orders.goods_amount
    * least(coalesce(came.short_quantity, 0.0) / orders.ordered_quantity, 1.0)
        as committed_amount,
    coalesce(
        came.last_delivered_date, greatest(orders.delivery_date, $as_of)
    )::date as paid_date,
    case
        when came.first_delivered_date is not null
            then greatest(came.first_delivered_date - orders.delivery_date, 0)
        when orders.delivery_date < $as_of
            then $as_of - orders.delivery_date
    end::bigint as late_days,
from stage_orders as orders
left join came using (order_line_id)
where orders.order_date <= $as_of
order by orders.order_line_id
