-- decided_different: pairs of households decided to be two, by loads that stand.
-- grain:  household_id_kept, household_id_other
-- params:
-- reads:  household_decisions, undone_loads
-- feeds:  duplicates.proposing
select distinct
    household_id_kept,
    household_id_other,
from household_decisions
anti join undone_loads using (load_id)
order by household_id_kept, household_id_other
