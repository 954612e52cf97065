-- 019_erasures: households whose personal details were erased, or are being erased.
-- grain:  household_id
-- params:
-- reads:
-- feeds:  store.migrations
create table erasures (
    household_id varchar not null primary key,
    reason varchar not null,
    asked_at timestamp not null,
    finished_at timestamp
)
