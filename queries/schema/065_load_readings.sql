-- 065_load_readings: columns of a load whose cells were read as a person would.
-- grain:  load_id, table_name, sheet, column_name, kind
-- params:
-- reads:
-- feeds:  store.migrations
create table load_readings (
    load_id varchar not null,
    table_name varchar not null,
    sheet varchar not null,
    column_name varchar not null,
    kind varchar not null,
    cells_count bigint not null,
    examples varchar not null,
    primary key (load_id, table_name, sheet, column_name, kind)
)
