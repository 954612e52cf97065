-- 003_loads: files taken in.
-- grain:  load_id
-- params:
-- reads:
-- feeds:  store.migrations
create table loads (
    load_id varchar not null primary key,
    file varchar not null,
    sha256 varchar not null,
    loaded_at timestamp not null
)
