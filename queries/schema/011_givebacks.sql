-- 011_givebacks: the table givebacks.
-- grain:  handover_id
-- params:
-- reads:
-- feeds:  store.migrations
create table givebacks (
    handover_id varchar not null,
    giveback_date date not null,
    reason varchar,
    is_reissued boolean not null,
    load_id varchar not null,
    primary key (handover_id)
)
