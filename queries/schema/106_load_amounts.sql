-- 106_load_amounts: what the ledger lines of a sheet add up to, by what became of them.
-- grain:  load_id, sheet, table_name
-- params:
-- reads:
-- feeds:  store.migrations
create table load_amounts (
    load_id varchar not null,
    sheet varchar not null,
    table_name varchar not null,
    lines_amount double not null,
    new_amount double not null,
    corrected_amount double not null,
    unchanged_amount double not null,
    repeated_amount double not null,
    refused_amount double not null,
    unread_count bigint not null,
    primary key (load_id, sheet, table_name)
)
