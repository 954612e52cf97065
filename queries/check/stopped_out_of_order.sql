-- stopped_out_of_order: bins that stopped before they were given or after the answer.
-- grain:  record_key
-- params:
-- reads:  answers, handovers
-- feeds:  checks.run_checks
with first_bins as (
    select
        household_id,
        min(handover_date) as first_handover_date,
    from handovers
    group by household_id
)

select
    'wrong' as severity,
    'answers' as table_name,
    answers.wave_id || ' | ' || answers.household_id as record_key,
    answers.stopped_date,
    answers.answer_date,
    first_bins.first_handover_date,
    case
        when answers.stopped_date > answers.answer_date then 'after_answer'
        else 'before_bin'
    end as found_as,
from answers
left join first_bins using (household_id)
where
    answers.stopped_date > answers.answer_date
    or answers.stopped_date < first_bins.first_handover_date
order by answers.wave_id, answers.household_id
