-- 003_contacts_history: records that a later load replaced, as they were.
-- grain:  table_name, record_key, replaced_by_load_id
-- params:
-- reads:
-- feeds:  store.migrations
create table history (
    table_name varchar not null,
    record_key varchar not null,
    record varchar not null,
    load_id varchar not null,
    replaced_by_load_id varchar not null,
    replaced_at timestamp not null
)
