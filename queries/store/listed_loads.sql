-- listed_loads: every load with the sum of its rows, those taken back among them.
-- grain:  load_id
-- params:
-- reads:  loads, load_counts, undone_loads
-- feeds:  store.undoing, store.keeping, store.writing, report.due.gathering
select
    loads.load_id,
    loads.file,
    loads.loaded_at,
    coalesce(sum(load_counts.new_count), 0)::bigint as new_count,
    coalesce(sum(load_counts.corrected_count), 0)::bigint as corrected_count,
    coalesce(sum(load_counts.refused_count), 0)::bigint as refused_count,
    undone_loads.undone_at,
    undone_loads.households_count as undone_households_count,
from loads
left join load_counts using (load_id)
left join undone_loads using (load_id)
group by all
order by loads.load_id
