-- 005_contacts_latitude: degrees north of the front door.
-- grain:  household_id
-- params:
-- reads:
-- feeds:  store.migrations
alter table contacts add column latitude double
