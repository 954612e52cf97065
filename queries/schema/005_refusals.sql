-- 005_refusals: cells because of which a row was not taken in.
-- grain:  load_id, sheet, row_number, column_name, reason
-- params:
-- reads:
-- feeds:  store.migrations
create table refusals (
    load_id varchar not null,
    table_name varchar not null,
    record_key varchar,
    file varchar not null,
    sheet varchar not null,
    row_number bigint not null,
    column_name varchar not null,
    value varchar not null,
    reason varchar not null,
    expected varchar not null,
    resolved_by_load_id varchar
)
