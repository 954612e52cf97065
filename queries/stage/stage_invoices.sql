-- stage_invoices: lines of invoices with the line of the order that each charges for.
-- grain:  invoice_line_id
-- params:
-- reads:  invoices
-- feeds:  invoice_differs, orders_committed, three_way_match
select
    invoice_line_id,
    supplier_id,
    order_line_id,
    invoice_date,
    invoiced_quantity,
    goods_amount,
    freight_amount,
    tax_amount,
from invoices
order by invoice_line_id
