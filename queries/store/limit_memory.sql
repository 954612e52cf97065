-- limit_memory: let a connection hold so much memory, and put the rest on the disk.
-- grain:  one setting
-- params:
-- reads:
-- feeds:  store.opening
set memory_limit = '{megabytes}MB'
