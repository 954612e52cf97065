-- former_records: former records as they are kept, each text once.
-- grain:  table_name, record
-- params:
-- reads:  history
-- feeds:  store.blanking
select distinct
    table_name,
    record,
from history
order by table_name, record
