-- record_refusals: note the rows not taken in; a contact's cell leaves no value here.
-- grain:  sheet, row_number, column_name, reason
-- params: load_id
-- reads:  incoming
-- feeds:  store.writing
insert into refusals by name
select
    $load_id as load_id,
    table_name,
    record_key,
    file,
    sheet,
    row_number,
    column_name,
    case when table_name = 'contacts' then '' else value end as value,
    reason,
    expected,
from incoming
