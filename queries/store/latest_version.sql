-- latest_version: number of the last migration that this file has been through.
-- grain:  one row
-- params:
-- reads:  schema_versions
-- feeds:  store.migrations
select coalesce(max(version), 0)::bigint as version
from schema_versions
