-- 070_suppliers_contract_reference: another column of the table suppliers.
-- grain:  supplier_id
-- params:
-- reads:
-- feeds:  store.migrations
alter table suppliers add column contract_reference varchar
