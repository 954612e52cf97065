-- orders_committed: lines of orders up to a day: what is to come, their cost and when.
--   What is short will not come and is not paid. A line that has not come is paid
--   when it does: on the day agreed, or from the day on where that has passed. What
--   was charged takes the place of the price ordered; what is to come, or came usable
--   and is not charged yet, stays at that price. A line has come on the day by which
--   nine tenths of it had: a late rest counts, a few missing pieces do not.
-- grain:  order_line_id
-- params: as_of
-- reads:  stage_orders, stage_deliveries, stage_invoices
-- feeds:  ordering.inputs.read_inputs
with arrivals as (
    select
        *,
        sum(received_quantity + short_quantity) over (
            partition by order_line_id order by delivered_date, delivery_id
        ) as settled_quantity,
    from stage_deliveries
    where delivered_date <= $as_of
),

came as (
    select
        arrivals.order_line_id,
        sum(arrivals.received_quantity) as received_quantity,
        sum(arrivals.unusable_quantity) as unusable_quantity,
        sum(arrivals.short_quantity) as short_quantity,
        max(arrivals.delivered_date) as last_delivered_date,
        min(arrivals.delivered_date) filter (
            where arrivals.settled_quantity >= 0.9 * orders.ordered_quantity
        ) as come_date,
    from arrivals
    inner join stage_orders as orders using (order_line_id)
    group by arrivals.order_line_id
),

charged as (
    select
        order_line_id,
        sum(invoiced_quantity) as invoiced_quantity,
        sum(goods_amount) as goods_amount,
        sum(freight_amount) as freight_amount,
    from stage_invoices
    where invoice_date <= $as_of and order_line_id is not null
    group by order_line_id
),

settled as (
    select
        orders.*,
        orders.landed_amount - orders.goods_amount as freight_ordered,
        came.last_delivered_date,
        came.come_date,
        coalesce(came.short_quantity, 0.0) as short_quantity,
        greatest(
            orders.ordered_quantity
            - coalesce(came.received_quantity + came.short_quantity, 0.0),
            0.0
        ) as outstanding_quantity,
        coalesce(came.received_quantity - came.unusable_quantity, 0.0)
            as usable_quantity,
    from stage_orders as orders
    left join came using (order_line_id)
    where orders.order_date <= $as_of
)

select
    settled.order_line_id,
    settled.supplier_id,
    settled.offer_id,
    settled.item_kind,
    settled.item_id,
    settled.stock_item,
    settled.delivery_date,
    settled.packs_count,
    settled.outstanding_quantity,
    case
        when charged.order_line_id is null
            then settled.landed_amount - settled.goods_amount
                * least(settled.short_quantity / settled.ordered_quantity, 1.0)
        else charged.goods_amount
            + settled.goods_amount / settled.ordered_quantity
            * greatest(
                settled.usable_quantity + settled.outstanding_quantity
                - charged.invoiced_quantity,
                0.0
            )
            + case
                when settled.outstanding_quantity > 0.0
                    then greatest(settled.freight_ordered, charged.freight_amount)
                else charged.freight_amount
            end
    end as committed_amount,
    coalesce(
        settled.last_delivered_date, greatest(settled.delivery_date, $as_of)
    )::date as paid_date,
    case
        when settled.come_date is not null
            then greatest(settled.come_date - settled.delivery_date, 0)
        when settled.delivery_date < $as_of
            then $as_of - settled.delivery_date
    end::bigint as late_days,
from settled
left join charged using (order_line_id)
order by settled.order_line_id
