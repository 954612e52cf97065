-- keep_withdrawn: put away the record of {table} that is withdrawn.
-- grain:  one row
-- params: table_name, record_key, load_id, replaced_at
-- reads:  {table}
-- feeds:  store.writing
insert into history (
    table_name, record_key, record, load_id, replaced_by_load_id, replaced_at
)
select
    $table_name,
    $record_key,
    to_json(struct_pack({stored_record}))::varchar,
    stored.load_id,
    $load_id,
    $replaced_at,
from {table} as stored
where concat_ws(' | ', {stored_key_text}) = $record_key
