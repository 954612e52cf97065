-- merged_households: households that went into another, by loads that stand.
-- grain:  household_id
-- params:
-- reads:  household_merges, undone_loads
-- feeds:  store.keeping
select household_id
from household_merges
anti join undone_loads using (load_id)
order by household_id
