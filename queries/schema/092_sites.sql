-- 092_sites: the table sites.
-- grain:  site_id
-- params:
-- reads:
-- feeds:  store.migrations
create table sites (
    site_id varchar not null,
    area_id varchar not null,
    site_kind varchar not null,
    people_count bigint not null,
    load_id varchar not null,
    primary key (site_id)
)
