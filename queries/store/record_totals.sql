-- record_totals: note the rows of totals of each sheet of a load.
-- grain:  sheet, table_name, row_number
-- params: load_id
-- reads:  incoming
-- feeds:  store.writing
insert into load_totals by name
select
    $load_id as load_id,
    sheet,
    table_name,
    row_number,
    stated_amount,
    taken_in_amount,
    repeated_amount,
    refused_amount,
    unexplained_amount,
    unread_count,
from incoming
