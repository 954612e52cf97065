-- record_migration: note that a migration has been applied.
-- grain:  one row
-- params: version, file_name, applied_at
-- reads:
-- feeds:  store.migrations
insert into schema_versions (version, file_name, applied_at)
values ($version, $file_name, $applied_at)
