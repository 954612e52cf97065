-- use_attached: read and write the attached file where no file is named.
-- grain:  one file
-- params:
-- reads:
-- feeds:  store.connection
use store
