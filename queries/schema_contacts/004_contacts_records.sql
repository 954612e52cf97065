-- 004_contacts_records: personal details of households.
-- grain:  household_id
-- params:
-- reads:
-- feeds:  store.migrations
create table contacts (
    household_id varchar not null,
    full_name varchar not null,
    street_address varchar not null,
    postcode varchar not null,
    email varchar,
    phone varchar,
    load_id varchar not null,
    primary key (household_id)
)
