-- 006_contacts_longitude: degrees east of the front door.
-- grain:  household_id
-- params:
-- reads:
-- feeds:  store.migrations
alter table contacts add column longitude double
