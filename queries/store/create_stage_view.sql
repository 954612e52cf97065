-- create_stage_view: make a stage query readable under its own name.
-- grain:  one view
-- params:
-- reads:
-- feeds:  store.opening
create or replace temporary view {name} as
{query}
