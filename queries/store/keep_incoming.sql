-- keep_incoming: take out of {table} what is not among the keys offered.
-- grain:  {key}
-- params:
-- reads:  incoming, {table}
-- feeds:  store.undoing
delete from {table} as stored
where not exists (select 1 from incoming where {key_match})
