-- 069_suppliers_payment_terms: another column of the table suppliers.
-- grain:  supplier_id
-- params:
-- reads:
-- feeds:  store.migrations
alter table suppliers add column payment_terms varchar
