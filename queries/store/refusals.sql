-- refusals: every cell because of which a row was not taken in.
-- grain:  load_id, sheet, row_number, column_name, reason
-- params:
-- reads:  refusals
-- feeds:  report.evidence, report.due.gathering, store.keeping
select
    load_id,
    table_name,
    record_key,
    file,
    sheet,
    row_number,
    column_name,
    value,
    reason,
    expected,
    resolved_by_load_id,
from refusals
order by load_id, sheet, row_number, column_name, reason
