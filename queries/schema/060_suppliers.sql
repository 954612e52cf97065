-- 060_suppliers: the table suppliers.
-- grain:  supplier_id
-- params:
-- reads:
-- feeds:  store.migrations
create table suppliers (
    supplier_id varchar not null,
    supplier_name varchar not null,
    order_by_weekday varchar,
    first_dispatch_weekday varchar not null,
    last_dispatch_weekday varchar not null,
    transit_days bigint not null,
    minimum_order_amount double,
    freight_per_delivery double not null,
    freight_per_pallet double not null,
    load_id varchar not null,
    primary key (supplier_id)
)
