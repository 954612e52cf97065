-- 068_suppliers_tax_number: another column of the table suppliers.
-- grain:  supplier_id
-- params:
-- reads:
-- feeds:  store.migrations
alter table suppliers add column tax_number varchar
