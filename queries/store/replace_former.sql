-- replace_former: put cleaned texts of former records in the place of the old ones.
-- grain:  table_name, record_key, replaced_by_load_id
-- params:
-- reads:  history, incoming
-- feeds:  store.blanking
update history
set record = incoming.cleaned
from incoming
where
    history.table_name = incoming.table_name
    and history.record = incoming.record
