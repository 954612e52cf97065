-- 118_undone_loads_households: of how many households a load taken back held records.
-- grain:  load_id
-- params:
-- reads:
-- feeds:  store.migrations
alter table undone_loads add column households_count bigint
