-- record_readings: note how cells of a load were read.
-- grain:  load_id, table_name, sheet, column_name, kind
-- params: load_id
-- reads:  incoming
-- feeds:  store.writing
insert into load_readings by name
select
    $load_id as load_id,
    table_name,
    sheet,
    column_name,
    kind,
    sum(cells_count)::bigint as cells_count,
    min(examples) as examples,
from incoming
group by table_name, sheet, column_name, kind
