-- failures_by_lot: bins given from $from_date on that were watched for $watched_days
--   by $as_of, and those that failed within that time, by model and by worm delivery.
--   A model fails with any case but rodents, ants and other; worms fail where a case
--   or a giveback says that they died or escaped. Answers to surveys do not count:
--   bins given shortly before a round would be asked sooner than others.
-- grain:  lot_kind, lot_id
-- params: as_of, from_date, watched_days
-- reads:  stage_lots, cases, givebacks
-- feeds:  field.case_list
with watched as (
    select *, handover_date + $watched_days::integer as until_date,
    from stage_lots
    where
        handover_date >= $from_date
        and handover_date + $watched_days::integer <= $as_of
),

failed as (
    select
        watched.handover_id,
        bool_or(cases.problem not in ('rodents', 'ants', 'other')) as has_failed,
        bool_or(cases.problem in ('worms_died', 'worms_escaped')) as has_lost_worms,
    from watched
    inner join cases
        on
            watched.household_id = cases.household_id
            and coalesce(cases.handover_id, watched.handover_id) = watched.handover_id
            and cases.opened_date >= watched.handover_date
            and cases.opened_date <= watched.until_date
    group by watched.handover_id
),

marked as (
    select
        watched.model_id,
        watched.delivery_id,
        coalesce(failed.has_failed, false)
        or coalesce(back.reason in ('worms_died', 'smell', 'flies'), false)
            as has_failed,
        coalesce(failed.has_lost_worms, false)
        or coalesce(back.reason = 'worms_died', false) as has_lost_worms,
    from watched
    left join failed using (handover_id)
    left join givebacks as back
        on
            watched.handover_id = back.handover_id
            and back.giveback_date <= watched.until_date
)

select
    'model' as lot_kind,
    model_id as lot_id,
    count(*)::bigint as bins_count,
    count(*) filter (where has_failed)::bigint as failed_count,
from marked
group by model_id
union all
select
    'worm delivery',
    delivery_id,
    count(*)::bigint,
    count(*) filter (where has_lost_worms)::bigint,
from marked
where delivery_id is not null
group by delivery_id
order by lot_kind, lot_id
