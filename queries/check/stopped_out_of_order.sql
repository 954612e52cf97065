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
    'stopped ' || answers.stopped_date || case
        when answers.stopped_date > answers.answer_date
            then ', answered ' || answers.answer_date
        else ', first bin given ' || first_bins.first_handover_date
    end as found,
    'Correct stopped_date, or leave it empty.' as advice,
from answers
left join first_bins using (household_id)
where
    answers.stopped_date > answers.answer_date
    or answers.stopped_date < first_bins.first_handover_date
order by answers.wave_id, answers.household_id
