-- orders_committed: lines of orders up to a day: what is to come, their cost and when.
--   What is short will not come and is not paid, nor is the freight of a delivery of
--   which nothing comes. What came is paid on the days it came, in the shares that
--   came usable; what has not come is paid when it does: on the day agreed, or from
--   the day on where that has passed. What was charged takes the place of the price
--   ordered; what is to come, or came usable and is not charged yet, stays at that
--   price. A line has come on the day by which nine tenths of it had: a late rest
--   counts, a few missing pieces do not.
-- grain:  order_line_id
-- params: as_of
-- reads:  stage_orders, stage_deliveries, stage_invoices
-- feeds:  ordering.inputs.read_inputs
with arrivals as (
    select
        *,
        received_quantity - unusable_quantity as usable_quantity,
        sum(received_quantity + short_quantity) over (
            partition by order_line_id order by delivered_date, delivery_id
        ) as settled_quantity,
    from stage_deliveries
    where delivered_date <= $as_of
),

came as (
    select
        arrivals.order_line_id,
        count(*) as deliveries_count,
        sum(arrivals.received_quantity) as received_quantity,
        sum(arrivals.usable_quantity) as usable_quantity,
        sum(arrivals.short_quantity) as short_quantity,
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
        orders.goods_amount / orders.ordered_quantity as unit_price,
        came.come_date,
        coalesce(came.deliveries_count, 0) as deliveries_count,
        coalesce(came.received_quantity, 0.0) as received_quantity,
        coalesce(came.short_quantity, 0.0) as short_quantity,
        greatest(
            orders.ordered_quantity
            - coalesce(came.received_quantity + came.short_quantity, 0.0),
            0.0
        ) as outstanding_quantity,
        coalesce(came.usable_quantity, 0.0) as usable_quantity,
    from stage_orders as orders
    left join came using (order_line_id)
    where orders.order_date <= $as_of
),

priced as (
    select
        settled.*,
        case
            when charged.order_line_id is null
                then settled.goods_amount * greatest(
                    1.0 - settled.short_quantity / settled.ordered_quantity, 0.0
                ) + case
                    when sum(settled.received_quantity + settled.outstanding_quantity)
                        over (
                            partition by settled.supplier_id, settled.delivery_date
                        ) > 0.0
                        then settled.freight_ordered
                    else 0.0
                end
            else charged.goods_amount
                + settled.unit_price * greatest(
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
        settled.unit_price * least(
            settled.outstanding_quantity,
            greatest(
                settled.usable_quantity + settled.outstanding_quantity
                - coalesce(charged.invoiced_quantity, 0.0),
                0.0
            )
        ) as to_come_amount,
    from settled
    left join charged using (order_line_id)
),

payments as (
    select
        arrivals.order_line_id,
        arrivals.delivered_date as paid_date,
        (priced.committed_amount - priced.to_come_amount) * case
            when priced.usable_quantity > 0.0
                then arrivals.usable_quantity / priced.usable_quantity
            else 1.0 / priced.deliveries_count
        end as amount,
    from arrivals
    inner join priced using (order_line_id)
    union all by name
    select
        order_line_id,
        greatest(delivery_date, $as_of)::date as paid_date,
        case
            when deliveries_count = 0 then committed_amount
            else to_come_amount
        end as amount,
    from priced
    where deliveries_count = 0 or to_come_amount > 0.0
),

paid as (
    select
        order_line_id,
        list({'paid_date': paid_date, 'amount': amount} order by paid_date)
            as payments,
    from payments
    group by order_line_id
)

select
    priced.order_line_id,
    priced.supplier_id,
    priced.offer_id,
    priced.item_kind,
    priced.item_id,
    priced.stock_item,
    priced.delivery_date,
    priced.packs_count,
    priced.outstanding_quantity / priced.ordered_quantity as outstanding_share,
    priced.outstanding_quantity,
    priced.committed_amount,
    paid.payments,
    case
        when priced.come_date is not null
            then greatest(priced.come_date - priced.delivery_date, 0)
        when priced.delivery_date < $as_of
            then $as_of - priced.delivery_date
    end::bigint as late_days,
from priced
inner join paid using (order_line_id)
order by priced.order_line_id
