-- two_bins_at_one_household: households that hold two bins.
-- grain:  record_key
-- params:
-- reads:  handovers, givebacks
-- feeds:  checks.run_checks
with bins as (
    select
        handovers.handover_id,
        handovers.household_id,
        handovers.handover_date,
        lag(handovers.handover_id) over before_it as earlier_id,
        lag(handovers.handover_date) over before_it as earlier_date,
        lag(givebacks.giveback_date) over before_it as giveback_date,
    from handovers
    left join givebacks using (handover_id)
    window before_it as (
        partition by handovers.household_id
        order by handovers.handover_date, handovers.handover_id
    )
)

select
    'doubtful' as severity,
    'handovers' as table_name,
    handover_id as record_key,
    household_id,
    earlier_id,
    earlier_date,
    handover_date,
from bins
where earlier_id is not null and coalesce(giveback_date > handover_date, true)
order by handover_id
