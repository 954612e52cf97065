-- answer_not_counted: answers of households that the round did not ask, by the records.
-- grain:  record_key
-- params:
-- reads:  answers, waves, samples, handovers, stage_who_was_asked
-- feeds:  checks.run_checks
with first_bins as (
    select
        household_id,
        min(handover_date) as handover_date,
    from handovers
    group by household_id
)

select
    'wrong' as severity,
    'answers' as table_name,
    answers.wave_id || ' | ' || answers.household_id as record_key,
    'answered ' || answers.answer_date
    || case
        when answers.wave_id in (select samples.wave_id from samples)
            then ', not drawn for this round, so the answer counts for nothing'
        when waves.wave_kind = 'baseline'
            then ' and registered later still, when the round was over, so the answer '
                || 'counts for nothing'
        else ', first bin given ' || first_bins.handover_date
            || ' when the round was over, so the answer counts for nothing'
    end as found,
    case
        when answers.wave_id in (select samples.wave_id from samples)
            then 'Add the household to samples of the round, or correct household_id.'
        when waves.wave_kind = 'baseline'
            then 'Correct registered_date, answer_date or the last day of the round.'
        else 'Correct handover_date, answer_date or the last day of the round.'
    end as advice,
from answers
inner join waves using (wave_id)
left join first_bins using (household_id)
anti join stage_who_was_asked as asked using (wave_id, household_id)
where waves.wave_kind = 'baseline' or first_bins.handover_date is not null
order by answers.wave_id, answers.household_id
