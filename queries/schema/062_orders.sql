-- 062_orders: the table orders.
-- grain:  order_line_id
-- params:
-- reads:
-- feeds:  store.migrations
create table orders (
    order_line_id varchar not null,
    supplier_id varchar not null,
    offer_id varchar,
    item_kind varchar not null,
    item_id varchar not null,
    order_date date not null,
    delivery_date date not null,
    packs_count bigint not null,
    ordered_quantity double not null,
    goods_amount double not null,
    freight_amount double not null,
    load_id varchar not null,
    primary key (order_line_id)
)
