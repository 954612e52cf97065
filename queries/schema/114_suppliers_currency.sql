-- 114_suppliers_currency: in which a supplier quotes and invoices.
-- grain:  supplier_id
-- params:
-- reads:
-- feeds:  store.migrations
alter table suppliers add column currency varchar
