-- 061_offers: the table offers.
-- grain:  offer_id
-- params:
-- reads:
-- feeds:  store.migrations
create table offers (
    offer_id varchar not null,
    supplier_id varchar not null,
    item_kind varchar not null,
    item_id varchar not null,
    pack_quantity double not null,
    packs_per_pallet bigint,
    minimum_packs_count bigint not null,
    weekly_limit_packs_count bigint,
    lead_days bigint not null,
    valid_from_date date not null,
    valid_until_date date not null,
    price_per_pack double not null,
    price_break_kind varchar,
    second_from_packs_count bigint,
    second_price_per_pack double,
    third_from_packs_count bigint,
    third_price_per_pack double,
    fourth_from_packs_count bigint,
    fourth_price_per_pack double,
    load_id varchar not null,
    primary key (offer_id)
)
