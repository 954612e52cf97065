-- totals_of_loads: total rows of loads that stand, and their lines.
-- grain:  load_id, sheet, table_name, row_number
-- params:
-- reads:  loads, load_totals, undone_loads
-- feeds:  report.evidence, report.document.contents.Quality
select
    loads.load_id,
    loads.file,
    load_totals.sheet,
    load_totals.row_number,
    load_totals.stated_amount,
    load_totals.taken_in_amount,
    load_totals.stated_amount - load_totals.taken_in_amount as difference_amount,
    load_totals.repeated_amount,
    load_totals.refused_amount,
    load_totals.unread_count,
    load_totals.unexplained_amount,
from load_totals
inner join loads using (load_id)
anti join undone_loads using (load_id)
order by loads.load_id, load_totals.sheet, load_totals.row_number
