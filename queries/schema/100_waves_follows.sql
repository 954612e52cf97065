-- 100_waves_follows: the round whose silent households a round asks again, if any.
-- grain:  wave_id
-- params:
-- reads:
-- feeds:  store.migrations
alter table waves add column follows_wave_id varchar
