-- 080_answers_would_have_composted: what would have been composted without the bin.
-- grain:  wave_id, household_id
-- params:
-- reads:
-- feeds:  store.migrations
alter table answers add column would_have_composted_share double
