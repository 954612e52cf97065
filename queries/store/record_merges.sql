-- record_merges: note households that go into another.
-- grain:  household_id
-- params: load_id
-- reads:  incoming
-- feeds:  duplicates.sheet
insert into household_merges (load_id, household_id, household_id_kept)
select $load_id, household_id, household_id_kept
from incoming
