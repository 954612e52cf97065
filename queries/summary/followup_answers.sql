-- followup_answers: whether a household asked in a follow-up uses a bin, and its feed.
--   Age counts from its first bin. Those whose bins had come back when the round opened
--   are out of use on that day, whether or not they answered.
-- grain:  wave_id, household_id
-- params: before_date
-- reads:  stage_who_was_asked, stage_answers
-- feeds:  survey.retention, survey.feed
select
    asked.wave_id,
    asked.household_id,
    asked.area_id,
    asked.dwelling,
    asked.first_handover_date,
    case
        when asked.is_given_back then asked.opens_date
        else answers.answer_date
    end as answer_date,
    date_diff(
        'day',
        asked.first_handover_date,
        case when asked.is_given_back then asked.opens_date else answers.answer_date end
    )::bigint as age_days,
    coalesce(answers.is_in_use and not asked.is_given_back, false) as is_in_use,
    case
        when not asked.is_given_back then answers.fed_kg_last_week
    end as fed_kg_last_week,
    case
        when not asked.is_given_back then answers.fed_litres_last_week
    end as fed_litres_last_week,
from stage_who_was_asked as asked
left join stage_answers as answers using (wave_id, household_id)
where
    asked.wave_kind = 'followup'
    and asked.opens_date < $before_date
    and (
        asked.is_given_back
        or (
            answers.is_in_use is not null
            and asked.first_handover_date <= answers.answer_date
        )
    )
order by asked.wave_id, asked.household_id
