-- 107_load_totals: total rows of a sheet, and the lines that they add up.
-- grain:  load_id, sheet, table_name, row_number
-- params:
-- reads:
-- feeds:  store.migrations
create table load_totals (
    load_id varchar not null,
    sheet varchar not null,
    table_name varchar not null,
    row_number bigint not null,
    stated_amount double not null,
    taken_in_amount double not null,
    repeated_amount double not null,
    refused_amount double not null,
    unexplained_amount double not null,
    unread_count bigint not null,
    primary key (load_id, sheet, table_name, row_number)
)
