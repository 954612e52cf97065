-- stage_invoices: lines of invoices with the line of the order that each charges for.
--   Amounts are without tax: of a supplier whose prices include it, the tax charged is
--   taken off goods and freight in proportion, which needs no rate.
-- grain:  invoice_line_id
-- params:
-- reads:  invoices, suppliers
-- feeds:  invoice_differs, orders_committed, three_way_match
with untaxed as (
    select
        invoices.*,
        case
            when suppliers.prices_include_tax
                and invoices.goods_amount + invoices.freight_amount > 0.0
                then 1.0 - least(
                    invoices.tax_amount
                    / (invoices.goods_amount + invoices.freight_amount),
                    1.0
                )
            else 1.0
        end as untaxed_share,
    from invoices
    left join suppliers using (supplier_id)
)

select
    invoice_line_id,
    supplier_id,
    order_line_id,
    invoice_date,
    invoiced_quantity,
    goods_amount * untaxed_share as goods_amount,
    freight_amount * untaxed_share as freight_amount,
    tax_amount,
from untaxed
order by invoice_line_id
