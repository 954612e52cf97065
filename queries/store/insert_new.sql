-- insert_new: add incoming rows whose key {table} does not hold.
-- grain:  {key}
-- params: load_id
-- reads:  incoming, {table}
-- feeds:  store.writing
insert into {table} ({columns}, load_id)
select {incoming_columns}, $load_id
from incoming
anti join {table} using ({key})
