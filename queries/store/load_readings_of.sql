-- load_readings_of: how cells of each load were read.
-- grain:  load_id, table_name, sheet, column_name, kind
-- params:
-- reads:  load_readings
-- feeds:  store.undoing
select load_id, table_name, sheet, column_name, kind, cells_count, examples
from load_readings
order by load_id, table_name, sheet, column_name, kind
