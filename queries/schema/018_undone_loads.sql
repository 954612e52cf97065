-- 018_undone_loads: loads that were taken back.
-- grain:  load_id
-- params:
-- reads:
-- feeds:  store.migrations
create table undone_loads (
    load_id varchar not null primary key,
    undone_at timestamp not null
)
