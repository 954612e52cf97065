-- 002_contacts_store_identity: the mark by which the two files know each other.
-- grain:  store_id
-- params:
-- reads:
-- feeds:  store.migrations
create table store_identity (
    store_id varchar not null primary key
)
