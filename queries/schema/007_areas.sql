-- 007_areas: the table areas.
-- grain:  area_id
-- params:
-- reads:
-- feeds:  store.migrations
create table areas (
    area_id varchar not null,
    area_name varchar not null,
    houses_count bigint not null,
    townhouses_count bigint not null,
    apartments_count bigint not null,
    residents_count bigint not null,
    kerbside_service varchar not null,
    is_priority boolean not null,
    load_id varchar not null,
    primary key (area_id)
)
