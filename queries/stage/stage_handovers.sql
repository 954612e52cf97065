-- stage_handovers: bins given, with the month in which each was taken.
-- grain:  handover_id
-- params:
-- reads:  handovers
-- feeds:  bins_by_area, bins_held, copayments_at_handover, diary_weeks,
--         handovers_by_month, households_back_by_month, households_by_group,
--         households_to_thank, latest_record, supplies_by_month, use_intervals,
--         weighed_week_not_paired
select
    handover_id,
    household_id,
    model_id,
    handover_date,
    date_trunc('month', handover_date)::date as handover_month,
    worms_kg,
    bedding_kg,
    coalesce(copayment, 0.0) as copayment,
from handovers
order by handover_id
