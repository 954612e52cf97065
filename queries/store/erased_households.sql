-- erased_households: households whose personal details were or are being erased.
-- grain:  household_id
-- params:
-- reads:  erasures
-- feeds:  store.opening.Store.erased_households
select household_id
from erasures
order by household_id
