-- followup_answers: whether a household asked in a follow-up uses a bin, and its feed.
--   Age counts from its first bin. Those whose bins had come back when the round opened
--   are out of use on that day, whether or not they answered; so are those that had
--   told before that they stopped and did not answer now. Where no day is told a bin
--   stopped after its household was last heard to use it, by the day it said it had.
-- grain:  wave_id, household_id
-- params: before_date
-- reads:  stage_who_was_asked, stage_answers
-- feeds:  survey.retention, survey.feed, diversion.leakage
with known as (
    select
        asked.wave_id,
        asked.household_id,
        asked.area_id,
        asked.dwelling,
        asked.first_handover_date,
        asked.opens_date,
        not asked.is_given_back
        and answers.is_in_use is not null
        and asked.first_handover_date <= answers.answer_date as has_answered,
        answers.answer_date,
        answers.is_in_use,
        answers.fed_kg_last_week,
        answers.fed_litres_last_week,
        answers.stopped_date,
        answers.would_have_composted_share,
        answers.thrown_away_share,
    from stage_who_was_asked as asked
    left join stage_answers as answers using (wave_id, household_id)
    where
        asked.wave_kind = 'followup'
        and asked.opens_date < $before_date
        and (
            asked.is_given_back
            or not asked.last_reported_in_use
            or (
                answers.is_in_use is not null
                and asked.first_handover_date <= answers.answer_date
            )
        )
),

told as (
    select
        known.wave_id,
        known.household_id,
        max(earlier.answer_date) filter (
            where earlier.is_in_use and earlier.answer_date < known.answer_date
        ) as last_in_use_date,
        min(earlier.answer_date) filter (where not earlier.is_in_use) as first_out_date,
    from known
    inner join stage_answers as earlier using (household_id)
    where
        not known.is_in_use
        and earlier.answer_date between known.first_handover_date and known.answer_date
    group by known.wave_id, known.household_id
),

used as (
    select
        known.*,
        case when has_answered then answer_date else opens_date end as asked_date,
        case
            when has_answered and is_in_use then answer_date
            when stopped_date is not null then stopped_date
        end as used_until,
        coalesce(used_until, told.last_in_use_date, first_handover_date) as used_from,
        -- one who began again has stopped since
        coalesce(
            used_until,
            case when told.first_out_date >= used_from then told.first_out_date end,
            asked_date
        ) as used_by,
    from known
    left join told using (wave_id, household_id)
)

select
    used.wave_id,
    used.household_id,
    used.area_id,
    used.dwelling,
    used.first_handover_date,
    used.asked_date as answer_date,
    date_diff('day', used.first_handover_date, used.asked_date)::bigint as age_days,
    coalesce(used.is_in_use and used.has_answered, false) as is_in_use,
    case when used.has_answered then used.fed_kg_last_week end as fed_kg_last_week,
    case
        when used.has_answered then used.fed_litres_last_week
    end as fed_litres_last_week,
    greatest(0, date_diff('day', used.first_handover_date, used.used_from))::bigint
        as used_days,
    greatest(0, date_diff('day', used.first_handover_date, used.used_by))::bigint
        as used_at_most_days,
    used.would_have_composted_share,
    used.thrown_away_share,
from used
order by used.wave_id, used.household_id
