-- attach_file: read a database file under the name {alias}; options say how.
-- grain:  one file
-- params:
-- reads:
-- feeds:  store.connection
attach '{path}' as {alias} ({options})
