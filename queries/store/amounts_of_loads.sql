-- amounts_of_loads: ledger amounts of loads that stand, by fate of the lines.
-- grain:  load_id, sheet, table_name
-- params:
-- reads:  loads, load_amounts, undone_loads
-- feeds:  report.evidence, report.document.contents.Quality
select
    loads.load_id,
    loads.file,
    load_amounts.sheet,
    load_amounts.table_name,
    load_amounts.lines_amount,
    load_amounts.new_amount,
    load_amounts.corrected_amount,
    load_amounts.unchanged_amount,
    load_amounts.repeated_amount,
    load_amounts.refused_amount,
    load_amounts.unread_count,
from load_amounts
inner join loads using (load_id)
anti join undone_loads using (load_id)
order by loads.load_id, load_amounts.sheet, load_amounts.table_name
