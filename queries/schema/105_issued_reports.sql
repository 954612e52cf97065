-- 105_issued_reports: reports given out, so that none can go unseen.
-- grain:  number
-- params:
-- reads:
-- feeds:  store.migrations
create table issued_reports (
    number bigint not null primary key,
    name varchar not null,
    manifest_sha256 varchar not null,
    recorded_at timestamp not null
)
