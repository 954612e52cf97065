-- 067_suppliers_postal_address: another column of the table suppliers.
-- grain:  supplier_id
-- params:
-- reads:
-- feeds:  store.migrations
alter table suppliers add column postal_address varchar
