-- orders_outstanding: lines of orders of which something is still to come.
-- grain:  order_line_id
-- params:
-- reads:  stage_order_lines
-- feeds:  ordering.steps.read_inputs
select
    order_line_id,
    supplier_id,
    item_kind,
    item_id,
    stock_item,
    delivery_date,
    outstanding_quantity,
    landed_amount,
from stage_order_lines
where outstanding_quantity > 0
order by order_line_id
