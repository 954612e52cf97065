-- count_by_fate: how many incoming rows of {table} are new, corrected or unchanged.
-- grain:  fate
-- params:
-- reads:  incoming, {table}
-- feeds:  store.writing
select
    case
        when stored.load_id is null then 'new'
        when row({incoming_columns}) is not distinct from row({stored_columns})
            then 'unchanged'
        else 'corrected'
    end as fate,
    count(*)::bigint as rows_count,
from incoming
left join {table} as stored using ({key})
group by all
order by fate
