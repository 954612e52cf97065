-- 094_site_weighings: the table site_weighings.
-- grain:  site_id, week_start_date
-- params:
-- reads:
-- feeds:  store.migrations
create table site_weighings (
    site_id varchar not null,
    week_start_date date not null,
    fed_kg double not null,
    load_id varchar not null,
    primary key (site_id, week_start_date)
)
