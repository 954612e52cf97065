-- 082_drop_points: the table drop_points.
-- grain:  drop_point_id
-- params:
-- reads:
-- feeds:  store.migrations
create table drop_points (
    drop_point_id varchar not null,
    area_id varchar,
    place_name varchar not null,
    latitude double not null,
    longitude double not null,
    load_id varchar not null,
    primary key (drop_point_id)
)
