-- 083_registrations: the table registrations.
-- grain:  household_id
-- params:
-- reads:
-- feeds:  store.migrations
create table registrations (
    household_id varchar not null,
    registered_date date not null,
    has_priority boolean,
    access_need varchar,
    model_id varchar,
    event_id varchar,
    drop_point_id varchar,
    load_id varchar not null,
    primary key (household_id)
)
