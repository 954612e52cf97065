-- 093_site_bins: the table site_bins.
-- grain:  site_id, model_id, given_date
-- params:
-- reads:
-- feeds:  store.migrations
create table site_bins (
    site_id varchar not null,
    model_id varchar not null,
    given_date date not null,
    bins_count bigint not null,
    worms_kg double not null,
    bedding_kg double not null,
    stopped_date date,
    load_id varchar not null,
    primary key (site_id, model_id, given_date)
)
