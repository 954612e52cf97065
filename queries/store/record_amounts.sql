-- record_amounts: note what the ledger lines of each sheet of a load add up to.
-- grain:  sheet, table_name
-- params: load_id
-- reads:  incoming
-- feeds:  store.writing
insert into load_amounts by name
select
    $load_id as load_id,
    sheet,
    table_name,
    lines_amount,
    new_amount,
    corrected_amount,
    unchanged_amount,
    repeated_amount,
    refused_amount,
    unread_count,
from incoming
