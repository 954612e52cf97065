-- three_way_match: each line of an order beside what came of it and what was charged.
--   Lines of invoices that name no order stand by themselves, under their own number.
-- grain:  line_id
-- params: as_of
-- reads:  orders, deliveries, stage_invoices
-- feeds:  report.orders.folder.write_order
with came as (
    select
        order_line_id,
        sum(received_quantity) as received_quantity,
        sum(unusable_quantity) as unusable_quantity,
        sum(short_quantity) as short_quantity,
    from deliveries
    where delivered_date <= $as_of
    group by order_line_id
),

charged as (
    select
        order_line_id,
        count(*)::bigint as invoices_count,
        sum(invoiced_quantity) as invoiced_quantity,
        sum(goods_amount) as invoiced_goods_amount,
        sum(freight_amount) as invoiced_freight_amount,
        sum(tax_amount) as invoiced_tax_amount,
    from stage_invoices
    where invoice_date <= $as_of and order_line_id is not null
    group by order_line_id
),

of_orders as (
    select
        orders.order_line_id as line_id,
        true as is_ordered,
        orders.supplier_id,
        orders.item_kind,
        orders.item_id,
        orders.order_date as line_date,
        orders.ordered_quantity,
        orders.goods_amount,
        orders.freight_amount,
        coalesce(came.received_quantity, 0.0) as received_quantity,
        coalesce(came.unusable_quantity, 0.0) as unusable_quantity,
        coalesce(came.short_quantity, 0.0) as short_quantity,
        coalesce(charged.invoices_count, 0) as invoices_count,
        coalesce(charged.invoiced_quantity, 0.0) as invoiced_quantity,
        coalesce(charged.invoiced_goods_amount, 0.0) as invoiced_goods_amount,
        coalesce(charged.invoiced_freight_amount, 0.0) as invoiced_freight_amount,
        coalesce(charged.invoiced_tax_amount, 0.0) as invoiced_tax_amount,
    from orders
    left join came using (order_line_id)
    left join charged using (order_line_id)
    where orders.order_date <= $as_of
),

without_order as (
    select
        invoice_line_id as line_id,
        false as is_ordered,
        supplier_id,
        '' as item_kind,
        '' as item_id,
        invoice_date as line_date,
        0.0 as ordered_quantity,
        0.0 as goods_amount,
        0.0 as freight_amount,
        0.0 as received_quantity,
        0.0 as unusable_quantity,
        0.0 as short_quantity,
        1 as invoices_count,
        invoiced_quantity,
        goods_amount as invoiced_goods_amount,
        freight_amount as invoiced_freight_amount,
        tax_amount as invoiced_tax_amount,
    from stage_invoices
    where invoice_date <= $as_of and order_line_id is null
)

select * from of_orders
union all by name
select * from without_order
order by line_id
