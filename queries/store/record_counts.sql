-- record_counts: note what became of the rows of each sheet.
-- grain:  sheet, table_name
-- params: load_id
-- reads:  incoming
-- feeds:  store.writing
insert into load_counts by name
select
    $load_id as load_id,
    sheet,
    table_name,
    rows_read,
    new_count,
    corrected_count,
    unchanged_count,
    repeated_count,
    skipped_count,
    refused_count,
from incoming
