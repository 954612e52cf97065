-- handovers_by_month: bins given before a day, by area, dwelling, model and month.
--   Estimates follow households from their first bin: of two bins one answer tells.
--   month_left is the mean share of the month that was left when they were given.
--   Whole numbers and decimals add up to the same in whatever order threads take them.
-- grain:  area_id, dwelling, model_id, handover_month
-- params: before_date
-- reads:  stage_handovers, stage_households
-- feeds:  diversion.cohorts, diversion.feed_share
with numbered as (
    select
        *,
        -- a bin is there from its first day on: given on the first, the whole month
        day(last_day(handover_date)) - day(handover_date) + 1 as days_left,
        day(last_day(handover_date))::double as month_days,
        row_number() over (
            partition by household_id
            order by handover_date, handover_id
        ) as bin_number,
    from stage_handovers
)

select
    households.area_id,
    households.dwelling,
    handovers.model_id,
    handovers.handover_month,
    count(*)::bigint as bins_given,
    count(*) filter (where handovers.bin_number = 1)::bigint as households_begun,
    avg(handovers.days_left) / any_value(handovers.month_days) as month_left,
    avg(handovers.days_left * handovers.days_left)
    / pow(any_value(handovers.month_days), 2) as month_left_square,
    sum(handovers.worms_kg::decimal(18, 12))::double as worms_kg,
    count(*) filter (where handovers.worms_kg > 0)::bigint as starters_count,
    sum(handovers.copayment::decimal(18, 12))::double as copayment,
from numbered as handovers
inner join stage_households as households using (household_id)
where handovers.handover_date < $before_date
group by all
order by
    households.area_id,
    households.dwelling,
    handovers.model_id,
    handovers.handover_month
