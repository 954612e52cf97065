-- 063_deliveries: the table deliveries.
-- grain:  delivery_id
-- params:
-- reads:
-- feeds:  store.migrations
create table deliveries (
    delivery_id varchar not null,
    order_line_id varchar not null,
    sent_date date,
    delivered_date date not null,
    received_quantity double not null,
    unusable_quantity double not null,
    short_quantity double not null,
    load_id varchar not null,
    primary key (delivery_id)
)
