-- blank_history: take personal details out of former records.
-- grain:  table_name, record_key, replaced_by_load_id
-- params: pattern
-- reads:  history
-- feeds:  store.erasing
update history
set record = regexp_replace(record, $pattern, '', 'gi')
where regexp_matches(record, $pattern, 'i')
