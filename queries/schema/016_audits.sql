-- 016_audits: the table audits.
-- grain:  audit_id
-- params:
-- reads:
-- feeds:  store.migrations
create table audits (
    audit_id varchar not null,
    area_id varchar not null,
    cluster_id varchar not null,
    arm varchar not null,
    period varchar not null,
    audit_date date not null,
    households_count bigint not null,
    residual_kg double not null,
    food_kg double not null,
    load_id varchar not null,
    primary key (audit_id)
)
