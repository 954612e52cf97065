-- diary_weeks: weighed weeks of households that had a bin, and whether each calibrates
--   reports: within $window_days of an answer on feed, as in diary_pairs. Weeks before
--   the first bin, after all bins had come back or after the household had told that it
--   had stopped are left out.
-- grain:  household_id, week_start_date
-- params: before_date, window_days
-- reads:  stage_who_was_asked, stage_answers, stage_households, stage_handovers,
--         stage_givebacks, stage_weighings
-- feeds:  diversion.diaries
with bins as (
    select
        handovers.household_id,
        min(handovers.handover_date) as first_handover_date,
        case
            when count(*) = count(givebacks.giveback_date)
                then max(givebacks.giveback_date)
        end as back_date,
    from stage_handovers as handovers
    left join stage_givebacks as givebacks using (handover_id)
    group by handovers.household_id
),

reports as (
    select
        asked.household_id,
        answers.answer_date,
    from stage_who_was_asked as asked
    inner join stage_answers as answers using (wave_id, household_id)
    where
        asked.wave_kind = 'followup'
        and asked.opens_date < $before_date
        and not asked.is_given_back
        and answers.is_in_use
        and asked.first_handover_date <= answers.answer_date
        and (
            answers.fed_kg_last_week is not null
            or answers.fed_litres_last_week is not null
        )
)

select
    weighings.household_id,
    weighings.week_start_date,
    households.dwelling,
    date_diff('day', bins.first_handover_date, weighings.week_start_date)::bigint
        as age_days,
    weighings.fed_kg,
    coalesce(
        min(abs(date_diff('day', reports.answer_date, weighings.week_start_date)))
        <= $window_days,
        false
    ) as is_calibrating,
from stage_weighings as weighings
inner join stage_households as households using (household_id)
inner join bins using (household_id)
left join reports using (household_id)
where
    weighings.week_start_date < $before_date
    and not weighings.is_stopped
    and weighings.week_start_date >= bins.first_handover_date
    and (bins.back_date is null or weighings.week_start_date < bins.back_date)
group by all
order by weighings.household_id, weighings.week_start_date
