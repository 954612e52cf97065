-- invoice_differs: invoices that charge for more than came, or above the price agreed.
-- grain:  record_key
-- params: currency
-- reads:  orders, deliveries, stage_invoices
-- feeds:  checks.run_checks
with came as (
    select
        order_line_id,
        sum(received_quantity - unusable_quantity) as usable_quantity,
    from deliveries
    group by order_line_id
),

charged as (
    select
        order_line_id,
        sum(invoiced_quantity) as invoiced_quantity,
        sum(goods_amount) as goods_amount,
        sum(freight_amount) as freight_amount,
    from stage_invoices
    where order_line_id is not null
    group by order_line_id
),

beside as (
    select
        orders.order_line_id,
        charged.invoiced_quantity,
        charged.goods_amount + charged.freight_amount as charged_amount,
        coalesce(came.usable_quantity, 0.0) as usable_quantity,
        orders.goods_amount * charged.invoiced_quantity / orders.ordered_quantity
        + orders.freight_amount as agreed_amount,
    from orders
    inner join charged using (order_line_id)
    left join came using (order_line_id)
)

select
    'doubtful' as severity,
    'orders' as table_name,
    order_line_id as record_key,
    round(invoiced_quantity, 3) as invoiced_quantity,
    round(usable_quantity, 3) as usable_quantity,
    $currency || ' ' || round(charged_amount, 2) as charged,
    $currency || ' ' || round(agreed_amount, 2) as agreed,
from beside
where
    invoiced_quantity > usable_quantity + 0.001
    or charged_amount > agreed_amount + 0.01
order by record_key
