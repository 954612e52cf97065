-- keep_replaced: put away the records of {table} that incoming rows will change.
-- grain:  {key}
-- params: table_name, load_id, replaced_at
-- reads:  incoming, {table}
-- feeds:  store.writing
insert into history (
    table_name, record_key, record, load_id, replaced_by_load_id, replaced_at
)
select
    $table_name,
    concat_ws(' | ', {stored_key_text}),
    to_json(struct_pack({stored_record}))::varchar,
    stored.load_id,
    $load_id,
    $replaced_at,
from {table} as stored
inner join incoming using ({key})
where row({incoming_columns}) is distinct from row({stored_columns})
