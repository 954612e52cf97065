-- 015_weighings: the table weighings.
-- grain:  household_id, week_start_date
-- params:
-- reads:
-- feeds:  store.migrations
create table weighings (
    household_id varchar not null,
    week_start_date date not null,
    fed_kg double not null,
    load_id varchar not null,
    primary key (household_id, week_start_date)
)
