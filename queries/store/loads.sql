-- loads: files taken in and not taken back, with what became of their rows.
-- grain:  load_id, sheet, table_name
-- params:
-- reads:  loads, load_counts, undone_loads
-- feeds:  report.evidence, report.issues, report.restatement, reporting.draft_report
select
    loads.load_id,
    loads.file,
    loads.sha256,
    loads.loaded_at,
    load_counts.sheet,
    load_counts.table_name,
    load_counts.rows_read,
    load_counts.new_count,
    load_counts.corrected_count,
    load_counts.unchanged_count,
    load_counts.repeated_count,
    load_counts.skipped_count,
    load_counts.refused_count,
from loads
left join load_counts using (load_id)
anti join undone_loads using (load_id)
order by loads.load_id, load_counts.sheet, load_counts.table_name
