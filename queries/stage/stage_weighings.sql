-- stage_weighings: weighed weeks, and whether the household had told of having stopped.
--   It had where its newest answer by then says out of use, or where its next answer
--   does and dates the stop a month or more before the week, as dates are recalled.
-- grain:  household_id, week_start_date
-- params:
-- reads:  weighings, stage_answers
-- feeds:  diary_pairs, diary_weeks, weighed_week_not_paired
with told as (
    select
        answers.household_id,
        answers.answer_date,
        answers.is_in_use,
        answers.stopped_date,
    from stage_answers as answers
    where answers.is_in_use is not null
)

select
    weighings.household_id,
    weighings.week_start_date,
    weighings.fed_kg,
    coalesce(not newest.is_in_use, false)
    or coalesce(
        not following.is_in_use
        and following.stopped_date + interval 1 month <= weighings.week_start_date,
        false
    ) as is_stopped,
from weighings
asof left join told as newest
    on
        newest.household_id = weighings.household_id
        and newest.answer_date <= weighings.week_start_date
asof left join told as following
    on
        following.household_id = weighings.household_id
        and following.answer_date > weighings.week_start_date
order by weighings.household_id, weighings.week_start_date
