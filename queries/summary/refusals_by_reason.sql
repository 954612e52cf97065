-- refusals_by_reason: rows not taken in and still open, by file, column and reason.
-- grain:  file, sheet, table_name, column_name, reason
-- params:
-- reads:  refusals
-- feeds:  report.document.contents.Quality
select
    file,
    sheet,
    table_name,
    column_name,
    reason,
    count(*)::bigint as cells_count,
    count(distinct row_number)::bigint as rows_count,
from refusals
where resolved_by_load_id is null
group by file, sheet, table_name, column_name, reason
order by file, sheet, table_name, column_name, reason
