-- 122_handovers_bins_count: the bins that a sheet says a row stands for: one.
-- grain:  handover_id
-- params:
-- reads:
-- feeds:  store.migrations
alter table handovers add column bins_count bigint
