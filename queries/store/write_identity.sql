-- write_identity: mark a new store.
-- grain:  one row
-- params: store_id
-- reads:
-- feeds:  store.opening
insert into store_identity (store_id)
values ($store_id)
