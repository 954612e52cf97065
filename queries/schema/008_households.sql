-- 008_households: the table households.
-- grain:  household_id
-- params:
-- reads:
-- feeds:  store.migrations
create table households (
    household_id varchar not null,
    area_id varchar not null,
    dwelling varchar not null,
    people_count bigint not null,
    registered_date date not null,
    channel varchar,
    may_contact boolean not null,
    load_id varchar not null,
    primary key (household_id)
)
