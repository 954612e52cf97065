-- drop_stage_view: take a stage query's name from it.
-- grain:  one view
-- params:
-- reads:
-- feeds:  store.opening
drop view {name}
