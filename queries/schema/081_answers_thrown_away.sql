-- 081_answers_thrown_away: what of the bin's food was thrown away after all.
-- grain:  wave_id, household_id
-- params:
-- reads:
-- feeds:  store.migrations
alter table answers add column thrown_away_share double
