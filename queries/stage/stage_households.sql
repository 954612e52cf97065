-- stage_households: registered households.
-- grain:  household_id
-- params:
-- reads:  households
-- feeds:  every summary by area or dwelling
select
    household_id,
    area_id,
    dwelling,
    people_count,
    registered_date,
from households
order by household_id
