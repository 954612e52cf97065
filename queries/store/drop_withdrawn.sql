-- drop_withdrawn: take the withdrawn record out of {table}.
-- grain:  one row
-- params: record_key
-- reads:  {table}
-- feeds:  store.writing
delete from {table}
where concat_ws(' | ', {key_text}) = $record_key
