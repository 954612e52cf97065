-- households_back_by_month: households without a bin any more, by area and month.
--   Every bin that they took before a day is back, or known to be out of use, before
--   that day; the month is that of the last.
-- grain:  area_id, back_month
-- params: before_date
-- reads:  stage_handovers, stage_givebacks, stage_households
-- feeds:  diversion.cohorts
with emptied as (
    select
        handovers.household_id,
        date_trunc('month', max(givebacks.giveback_date))::date as back_month,
    from stage_handovers as handovers
    left join stage_givebacks as givebacks
        on
            handovers.handover_id = givebacks.handover_id
            and givebacks.giveback_date < $before_date
    where handovers.handover_date < $before_date
    group by handovers.household_id
    having count(*) = count(givebacks.handover_id)
)

select
    households.area_id,
    emptied.back_month,
    count(*)::bigint as households_back,
from emptied
inner join stage_households as households using (household_id)
group by all
order by
    households.area_id,
    emptied.back_month
