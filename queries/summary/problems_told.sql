-- problems_told: problems that households told of between two days, in cases and in
--   answers, each once a household; counted by problem, area, model, season, delivery.
--   A problem is put to the bin that was newest on the day.
-- grain:  grouping, part
-- params: from_date, before_date
-- reads:  cases, answers, stage_lots, households
-- feeds:  report.figures.aftercare
with told as (
    select household_id, problem, opened_date as told_date,
    from cases
    union all
    select household_id, problem, answer_date,
    from answers
    where problem is not null and problem <> 'none'
),

in_time as (
    select household_id, problem, min(told_date) as told_date,
    from told
    where told_date >= $from_date and told_date < $before_date
    group by household_id, problem
),

placed as (
    select
        in_time.household_id,
        unnest(['problem', 'area', 'model', 'season', 'delivery']) as grouping,
        unnest([
            in_time.problem,
            households.area_id,
            coalesce(lots.model_id, 'no bin yet'),
            date_part('year', in_time.told_date)::varchar || ' quarter '
            || date_part('quarter', in_time.told_date)::varchar,
            coalesce(lots.delivery_id, 'not known'),
        ]) as part,
    from in_time
    inner join households using (household_id)
    asof left join stage_lots as lots
        on
            in_time.household_id = lots.household_id
            and in_time.told_date >= lots.handover_date
)

select
    grouping,
    part,
    count(*)::bigint as problems_count,
    count(distinct household_id)::bigint as households_count,
from placed
group by grouping, part
order by grouping, part
