-- 096_attendances: the table attendances.
-- grain:  workshop_id, household_id
-- params:
-- reads:
-- feeds:  store.migrations
create table attendances (
    workshop_id varchar not null,
    household_id varchar not null,
    load_id varchar not null,
    primary key (workshop_id, household_id)
)
