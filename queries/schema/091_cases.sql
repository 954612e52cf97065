-- 091_cases: the table cases.
-- grain:  case_id
-- params:
-- reads:
-- feeds:  store.migrations
create table cases (
    case_id varchar not null,
    household_id varchar not null,
    handover_id varchar,
    opened_date date not null,
    problem varchar not null,
    case_action varchar,
    action_date date,
    worms_kg double,
    replacement_handover_id varchar,
    cost_id varchar,
    closed_date date,
    load_id varchar not null,
    primary key (case_id)
)
