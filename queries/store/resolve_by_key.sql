-- resolve_by_key: mark refusals of earlier loads whose record has now been taken in.
-- grain:  one refusal
-- params: load_id, table_name
-- reads:  incoming, refusals
-- feeds:  store.writing
update refusals
set resolved_by_load_id = $load_id
from (select distinct concat_ws(' | ', {key_text}) as record_key from incoming) as taken
where
    refusals.table_name = $table_name
    and refusals.record_key = taken.record_key
    and refusals.resolved_by_load_id is null
