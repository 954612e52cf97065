-- stage_households: registered households.
-- grain:  household_id
-- params:
-- reads:  households
-- feeds:  bins_by_area, followup_answers, handovers_by_month, prior_shares, wave_frames
select
    household_id,
    area_id,
    dwelling,
    people_count,
    registered_date,
from households
order by household_id
