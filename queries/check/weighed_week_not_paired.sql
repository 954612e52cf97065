-- weighed_week_not_paired: weighed weeks that calibrate no report, and why.
-- grain:  record_key
-- params: diary_window_days
-- reads:  stage_answers, stage_waves, stage_handovers, stage_givebacks,
--         stage_weighings
-- feeds:  checks.run_checks
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

answered as (
    select
        answers.household_id,
        answers.answer_date,
        answers.is_in_use
        and (
            answers.fed_kg_last_week is not null
            or answers.fed_litres_last_week is not null
        ) as has_report,
    from stage_answers as answers
    inner join stage_waves as waves using (wave_id)
    where waves.wave_kind = 'followup'
),

weeks as (
    select
        weighings.household_id,
        weighings.week_start_date,
        bins.back_date <= weighings.week_start_date as is_back,
        weighings.is_stopped,
        count(answered.answer_date) as answers_count,
        min(abs(date_diff('day', answered.answer_date, weighings.week_start_date)))
            filter (where answered.has_report) as days_to_report,
    from stage_weighings as weighings
    inner join bins using (household_id)
    left join answered using (household_id)
    where weighings.week_start_date >= bins.first_handover_date
    group by all
)

select
    'note' as severity,
    'weighings' as table_name,
    household_id || ' | ' || week_start_date as record_key,
    days_to_report,
    $diary_window_days as diary_window_days,
    case
        when is_back then 'back'
        when is_stopped then 'stopped'
        when answers_count = 0 then 'silent'
        when days_to_report is null then 'no_feed'
        else 'far'
    end as found_as,
    case when found_as = 'stopped' then 'in_use' else 'near' end as advice_as,
from weeks
where
    coalesce(is_back, false)
    or is_stopped
    or coalesce(days_to_report > $diary_window_days, true)
order by household_id, week_start_date
