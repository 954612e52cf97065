-- in_use_after_giveback: answers that say in use when all bins had come back before.
-- grain:  record_key
-- params:
-- reads:  stage_answers, handovers, givebacks
-- feeds:  checks.run_checks
with bins as (
    select
        answers.reported_in_wave_id as wave_id,
        answers.household_id,
        answers.answer_date,
        max(givebacks.giveback_date) as giveback_date,
    from stage_answers as answers
    inner join handovers
        on
            handovers.household_id = answers.household_id
            and handovers.handover_date <= answers.answer_date
    left join givebacks using (handover_id)
    where answers.is_in_use
    group by answers.reported_in_wave_id, answers.household_id, answers.answer_date
    having bool_and(coalesce(givebacks.giveback_date < answers.answer_date, false))
)

select
    'doubtful' as severity,
    'answers' as table_name,
    wave_id || ' | ' || household_id as record_key,
    answer_date,
    giveback_date,
from bins
order by wave_id, household_id
