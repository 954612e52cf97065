-- copy_rows: copy all rows of one attached file to another that has its tables.
-- grain:  one file
-- params:
-- reads:  database
-- feeds:  store.drafts
copy from database store to fresh (data)
