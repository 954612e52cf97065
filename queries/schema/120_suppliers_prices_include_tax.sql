-- 120_suppliers_prices_include_tax: whether a supplier quotes and invoices with tax.
-- grain:  supplier_id
-- params:
-- reads:
-- feeds:  store.migrations
alter table suppliers add column prices_include_tax boolean
