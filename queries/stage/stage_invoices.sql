-- stage_invoices: lines of invoices with the line of the order that each charges for.
--   Amounts are without tax: of a supplier whose prices include it, the tax charged is
--   taken off goods and freight in proportion, which needs no rate. Goods that come
--   nearer to the price ordered as they stand were written without tax.
-- grain:  invoice_line_id
-- params:
-- reads:  invoices, orders, suppliers
-- feeds:  invoice_differs, orders_committed, three_way_match
with compared as (
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
        orders.goods_amount / orders.ordered_quantity * invoices.invoiced_quantity
            as agreed_amount,
    from invoices
    left join suppliers on suppliers.supplier_id = invoices.supplier_id
    left join orders on orders.order_line_id = invoices.order_line_id
),

untaxed as (
    select
        * replace (
            case
                when abs(goods_amount - agreed_amount)
                    < abs(goods_amount * untaxed_share - agreed_amount)
                    then 1.0
                else untaxed_share
            end as untaxed_share
        ),
    from compared
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
