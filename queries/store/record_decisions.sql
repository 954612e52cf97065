-- record_decisions: note pairs of households that the officer has decided are two.
-- grain:  household_id_kept, household_id_other
-- params: load_id
-- reads:  incoming
-- feeds:  duplicates.sheet
insert into household_decisions (load_id, household_id_kept, household_id_other)
select distinct $load_id, household_id_kept, household_id_other
from incoming
