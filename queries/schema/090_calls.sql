-- 090_calls: the table calls.
-- grain:  household_id, call_date
-- params:
-- reads:
-- feeds:  store.migrations
create table calls (
    household_id varchar not null,
    call_date date not null,
    call_reason varchar not null,
    call_outcome varchar not null,
    load_id varchar not null,
    primary key (household_id, call_date)
)
