-- 040_household_decisions: pairs of households that the officer has decided are two.
-- grain:  load_id, household_id_kept, household_id_other
-- params:
-- reads:
-- feeds:  store.migrations
create table household_decisions (
    load_id varchar not null,
    household_id_kept varchar not null,
    household_id_other varchar not null,
    primary key (load_id, household_id_kept, household_id_other)
)
