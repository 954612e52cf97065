-- stage_households: registered households.
-- grain:  household_id
-- params:
-- reads:  households
-- feeds:  bins_by_area, diary_weeks, handovers_by_month, households_by_group,
--         households_by_wave, registrations_by_month, stage_who_was_asked
select
    household_id,
    area_id,
    dwelling,
    people_count,
    registered_date,
    channel,
from households
order by household_id
