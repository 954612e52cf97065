-- 004_load_counts: what became of the rows of a sheet.
-- grain:  load_id, sheet, table_name
-- params:
-- reads:
-- feeds:  store.migrations
create table load_counts (
    load_id varchar not null,
    sheet varchar not null,
    table_name varchar not null,
    rows_read bigint not null,
    new_count bigint not null,
    corrected_count bigint not null,
    unchanged_count bigint not null,
    repeated_count bigint not null,
    skipped_count bigint not null,
    refused_count bigint not null,
    primary key (load_id, sheet, table_name)
)
