-- delivery_before_order: goods that came before they were ordered.
-- grain:  record_key
-- params:
-- reads:  orders, deliveries
-- feeds:  checks.run_checks
select
    'wrong' as severity,
    'deliveries' as table_name,
    deliveries.delivery_id as record_key,
    deliveries.delivered_date,
    orders.order_date,
from deliveries
inner join orders using (order_line_id)
where deliveries.delivered_date < orders.order_date
order by deliveries.delivery_id
