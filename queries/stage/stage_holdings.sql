-- stage_holdings: spans over which a household was given no further bin, each with the
--   day on which all bins given by then had come back; 9999-12-31 stands for never.
-- grain:  household_id, from_date
-- params:
-- reads:  handovers, givebacks
-- feeds:  households_by_wave, stage_who_was_asked
with by_day as (
    select
        handovers.household_id,
        handovers.handover_date as from_date,
        max(coalesce(givebacks.giveback_date, date '9999-12-31')) as all_back_date,
    from handovers
    left join givebacks using (handover_id)
    group by handovers.household_id, handovers.handover_date
)

select
    by_day.household_id,
    by_day.from_date,
    lead(by_day.from_date, 1, date '9999-12-31') over history as until_date,
    first_value(by_day.from_date) over history as first_handover_date,
    max(by_day.all_back_date) over history as all_back_date,
from by_day
window history as (
    partition by by_day.household_id
    order by by_day.from_date
)
order by by_day.household_id, by_day.from_date
