-- 066_invoices: the table invoices.
-- grain:  invoice_line_id
-- params:
-- reads:
-- feeds:  store.migrations
create table invoices (
    invoice_line_id varchar not null,
    supplier_id varchar not null,
    order_line_id varchar,
    invoice_date date not null,
    invoiced_quantity double not null,
    goods_amount double not null,
    freight_amount double not null,
    tax_amount double not null,
    load_id varchar not null,
    primary key (invoice_line_id)
)
