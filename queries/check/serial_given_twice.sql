-- serial_given_twice: serial numbers that stand on more than one bin still out.
-- grain:  record_key
-- params:
-- reads:  handovers, givebacks
-- feeds:  checks.run_checks
with marked as (
    select
        handovers.handover_id,
        handovers.serial,
        count(*) over (partition by handovers.serial) as bins_count,
        min(handovers.handover_id) over (partition by handovers.serial) as first_id,
        max(handovers.handover_id) over (partition by handovers.serial) as last_id,
    from handovers
    left join givebacks using (handover_id)
    where handovers.serial is not null and not coalesce(givebacks.is_reissued, false)
)

select
    'wrong' as severity,
    'handovers' as table_name,
    handover_id as record_key,
    bins_count,
    case when handover_id = first_id then last_id else first_id end as other_id,
from marked
where bins_count > 1
order by handover_id
