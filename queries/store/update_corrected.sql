-- update_corrected: give records of {table} the values of incoming rows that differ.
-- grain:  {key}
-- params: load_id
-- reads:  incoming, {table}
-- feeds:  store.writing
update {table} as stored
set {assignments}
from incoming
where {key_match} and row({incoming_columns}) is distinct from row({stored_columns})
