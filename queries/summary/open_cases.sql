-- open_cases: cases that are not closed on a day, and problems of answers of the last
--   $recent_days that no case of the household has taken up within two months.
--   A case made of an answer is numbered by its round and household, so that the same
--   answer makes the same case again.
-- grain:  case_id
-- params: on_date, recent_days
-- reads:  cases, answers, stage_lots, stage_held_bins, households, erasures
-- feeds:  field.case_list
with known as (
    select
        case_id,
        household_id,
        handover_id,
        opened_date,
        problem,
        case_action,
        action_date,
        worms_kg,
        replacement_handover_id,
        cost_id,
        false as is_from_answer,
    from cases
    where
        opened_date <= $on_date
        and coalesce(closed_date > $on_date, true)
),

of_answers as (
    select
        answers.wave_id || '-' || answers.household_id as case_id,
        answers.household_id,
        lots.handover_id,
        answers.answer_date as opened_date,
        answers.problem,
        null as case_action,
        null::date as action_date,
        null::double as worms_kg,
        null as replacement_handover_id,
        null as cost_id,
        true as is_from_answer,
    from answers
    asof inner join stage_lots as lots
        on
            answers.household_id = lots.household_id
            and answers.answer_date >= lots.handover_date
    inner join stage_held_bins as bins
        on answers.household_id = bins.household_id
    where
        answers.problem <> 'none'
        and answers.answer_date <= $on_date
        and answers.answer_date > $on_date - $recent_days::integer
        and coalesce(answers.is_in_use, true)
        and coalesce(bins.all_back_date > $on_date, true)
        and not exists (
            select 1
            from cases as near_by
            where
                near_by.household_id = answers.household_id
                and abs(near_by.opened_date - answers.answer_date) <= 60
        )
)

select
    listed.*,
    households.area_id,
    households.may_contact and erasures.household_id is null as may_contact,
from (
    select *
    from known
    union all
    select *
    from of_answers
) as listed
inner join households using (household_id)
left join erasures using (household_id)
order by listed.opened_date, listed.case_id
