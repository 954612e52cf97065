-- record_load: note a file that is being taken in.
-- grain:  one row
-- params: load_id, file, sha256, loaded_at
-- reads:
-- feeds:  store.writing
insert into loads (load_id, file, sha256, loaded_at)
values ($load_id, $file, $sha256, $loaded_at)
