-- record_sources: key, day and load of every record of {table}.
-- grain:  {key}
-- params:
-- reads:  {table}
-- feeds:  store.opening.Store.record_sources
select
    concat_ws(' | ', {key_text}) as record_key,
    {day} as record_date,
    load_id,
from {table}
order by {key}
