-- delivery_beyond_order: lines of orders of which more came, or is short, than ordered.
-- grain:  record_key
-- params:
-- reads:  orders, deliveries
-- feeds:  checks.run_checks
select
    'doubtful' as severity,
    'orders' as table_name,
    orders.order_line_id as record_key,
    round(sum(deliveries.received_quantity), 3) as received_quantity,
    round(sum(deliveries.short_quantity), 3) as short_quantity,
    round(orders.ordered_quantity, 3) as ordered_quantity,
from orders
inner join deliveries using (order_line_id)
group by orders.order_line_id, orders.ordered_quantity
having
    sum(deliveries.received_quantity + deliveries.short_quantity)
    > orders.ordered_quantity + 0.001
order by record_key
