-- 001_contacts_schema_versions: migrations that this file has been through.
-- grain:  version
-- params:
-- reads:
-- feeds:  store.migrations
create table schema_versions (
    version integer not null primary key,
    file_name varchar not null,
    applied_at timestamp not null
)
