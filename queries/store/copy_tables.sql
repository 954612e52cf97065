-- copy_tables: make the tables of one attached file in another, empty one.
-- grain:  one file
-- params:
-- reads:  database
-- feeds:  store.drafts
copy from database store to fresh (schema)
