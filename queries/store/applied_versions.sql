-- applied_versions: numbers of the migrations that this file has been through.
-- grain:  version
-- params:
-- reads:  schema_versions
-- feeds:  store.migrations
select version::bigint as version
from schema_versions
order by version
