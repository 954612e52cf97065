-- 095_workshops: the table workshops.
-- grain:  workshop_id
-- params:
-- reads:
-- feeds:  store.migrations
create table workshops (
    workshop_id varchar not null,
    workshop_date date not null,
    area_id varchar,
    load_id varchar not null,
    primary key (workshop_id)
)
