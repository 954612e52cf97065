-- 010_handovers: the table handovers.
-- grain:  handover_id
-- params:
-- reads:
-- feeds:  store.migrations
create table handovers (
    handover_id varchar not null,
    household_id varchar not null,
    event_id varchar,
    model_id varchar not null,
    handover_date date not null,
    worms_kg double not null,
    bedding_kg double not null,
    copayment double,
    serial varchar,
    load_id varchar not null,
    primary key (handover_id)
)
