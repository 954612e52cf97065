-- 009_events: the table events.
-- grain:  event_id
-- params:
-- reads:
-- feeds:  store.migrations
create table events (
    event_id varchar not null,
    area_id varchar,
    event_date date not null,
    places_count bigint not null,
    venue varchar,
    load_id varchar not null,
    primary key (event_id)
)
