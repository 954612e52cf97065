-- ask_erasure: note that personal details are to be erased; from then none are shown.
-- grain:  household_id
-- params: reason, asked_at
-- reads:  incoming
-- feeds:  store.erasing
insert or replace into erasures
select household_id, $reason, $asked_at, null
from incoming
