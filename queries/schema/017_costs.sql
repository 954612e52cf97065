-- 017_costs: the table costs.
-- grain:  cost_id
-- params:
-- reads:
-- feeds:  store.migrations
create table costs (
    cost_id varchar not null,
    cost_date date not null,
    category varchar not null,
    amount double not null,
    load_id varchar not null,
    primary key (cost_id)
)
