-- problems_told: problems that households told of between two days, in cases and in
--   answers, each once a household; counted by problem, area, model, season, delivery.
--   A problem is put to the bin that was newest on the day.
-- grain:  grouping, part
-- params: from_date, before_date
-- reads:  cases, answers, stage_lots, households
-- feeds:  report.figures.giveaway
with told as (
    select household_id, problem, opened_date as reported_date,
    from cases
    union all
    select household_id, problem, answer_date,
    from answers
    where problem is not null and problem <> 'none'
),

in_time as (
    select household_id, problem, min(reported_date) as reported_date,
    from told
    where reported_date >= $from_date and reported_date < $before_date
    group by household_id, problem
),

with_bin as (
    select
        in_time.household_id,
        in_time.problem,
        in_time.reported_date,
        lots.model_id,
        lots.delivery_id,
    from in_time
    left join stage_lots as lots
        on
            in_time.household_id = lots.household_id
            and in_time.reported_date >= lots.handover_date
    qualify row_number() over (
        partition by in_time.household_id, in_time.problem
        order by lots.handover_date desc, lots.handover_id
    ) = 1
),

placed as (
    select
        with_bin.household_id,
        unnest(['problem', 'area', 'model', 'season', 'delivery']) as grouping,
        unnest([
            with_bin.problem,
            households.area_id,
            coalesce(with_bin.model_id, 'no bin yet'),
            date_part('year', with_bin.reported_date)::varchar || ' quarter '
            || date_part('quarter', with_bin.reported_date)::varchar,
            coalesce(with_bin.delivery_id, 'not known'),
        ]) as part,
    from with_bin
    inner join households using (household_id)
)

select
    grouping,
    part,
    count(*)::bigint as problems_count,
    count(distinct household_id)::bigint as households_count,
from placed
group by grouping, part
order by grouping, part
