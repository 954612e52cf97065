-- 041_household_merges: households that went into another by the officer's decision.
-- grain:  load_id, household_id
-- params:
-- reads:
-- feeds:  store.migrations
create table household_merges (
    load_id varchar not null,
    household_id varchar not null,
    household_id_kept varchar not null,
    primary key (load_id, household_id)
)
