-- pending_erasures: erasures that were asked for and are not finished.
-- grain:  household_id
-- params:
-- reads:  erasures
-- feeds:  store.erasing
select household_id, reason, asked_at
from erasures
where finished_at is null
order by household_id
