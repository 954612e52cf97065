-- 121_answers_prior_main_route: where most scraps went before, if no shares were asked.
-- grain:  wave_id, household_id
-- params:
-- reads:
-- feeds:  store.migrations
alter table answers add column prior_main_route varchar
