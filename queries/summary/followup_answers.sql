-- followup_answers: whether a household asked in a follow-up uses a bin, and its feed.
--   Age counts from its first bin. Those whose bins had come back when the round opened
--   are out of use on that day, whether or not they answered; so are those that had
--   told before that they stopped and did not answer now.
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
            or not asked.last_told_in_use
            or (
                answers.is_in_use is not null
                and asked.first_handover_date <= answers.answer_date
            )
        )
)

select
    known.wave_id,
    known.household_id,
    known.area_id,
    known.dwelling,
    known.first_handover_date,
    case
        when known.has_answered then known.answer_date else known.opens_date
    end as answer_date,
    date_diff(
        'day',
        known.first_handover_date,
        case when known.has_answered then known.answer_date else known.opens_date end
    )::bigint as age_days,
    coalesce(known.is_in_use and known.has_answered, false) as is_in_use,
    case when known.has_answered then known.fed_kg_last_week end as fed_kg_last_week,
    case
        when known.has_answered then known.fed_litres_last_week
    end as fed_litres_last_week,
    greatest(
        0,
        date_diff(
            'day',
            known.first_handover_date,
            case
                when known.has_answered and known.is_in_use then known.answer_date
                when known.has_answered
                    then coalesce(known.stopped_date, known.answer_date)
                else coalesce(known.stopped_date, known.opens_date)
            end
        )
    )::bigint as used_days,
    known.would_have_composted_share,
    known.thrown_away_share,
from known
order by known.wave_id, known.household_id
