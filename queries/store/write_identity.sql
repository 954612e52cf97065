-- write_identity: mark a new store.
-- grain:  one row
-- params: store_id
-- reads:
-- feeds:  store.opening
insert into store_identity
values ($store_id)
