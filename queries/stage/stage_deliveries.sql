-- stage_deliveries: deliveries with the order of each, and the item as it is stored.
--   Worms and bedding are stored and handed over by kind, whatever the species or
--   material.
-- grain:  delivery_id
-- params:
-- reads:  deliveries, orders
-- feeds:  stock_reconciled, stage_lots, live_deliveries, orders_committed,
--         stock_does_not_balance
select
    deliveries.delivery_id,
    deliveries.order_line_id,
    orders.supplier_id,
    orders.item_kind,
    case orders.item_kind
        when 'bins' then orders.item_id
        else orders.item_kind
    end as stock_item,
    deliveries.sent_date,
    deliveries.delivered_date,
    deliveries.received_quantity,
    deliveries.unusable_quantity,
    deliveries.short_quantity,
from deliveries
inner join orders using (order_line_id)
order by deliveries.delivery_id
