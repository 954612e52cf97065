-- stage_givebacks: bins that came back or are known to be out of use.
-- grain:  handover_id
-- params:
-- reads:  givebacks
-- feeds:  bins_held, diary_weeks, households_back_by_month, households_to_thank,
--         supplies_by_month, use_intervals, weighed_week_not_paired
select
    handover_id,
    giveback_date,
    coalesce(reason, 'other') as reason,
    is_reissued,
from givebacks
order by handover_id
