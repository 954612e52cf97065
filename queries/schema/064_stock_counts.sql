-- 064_stock_counts: the table stock_counts.
-- grain:  count_id
-- params:
-- reads:
-- feeds:  store.migrations
create table stock_counts (
    count_id varchar not null,
    item_kind varchar not null,
    item_id varchar not null,
    count_date date not null,
    counted_quantity double not null,
    lost_quantity double not null,
    load_id varchar not null,
    primary key (count_id)
)
