-- load_extension: load the signed extension with which encrypted files are written.
-- grain:  one extension
-- params:
-- reads:
-- feeds:  store.connection
load '{path}'
