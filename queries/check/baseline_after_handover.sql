-- baseline_after_handover: baseline answers given after the household had its bin.
-- grain:  record_key
-- params:
-- reads:  answers, waves, handovers
-- feeds:  checks.run_checks
select
    'note' as severity,
    'answers' as table_name,
    answers.wave_id || ' | ' || answers.household_id as record_key,
    answers.answer_date,
    min(handovers.handover_date) as handover_date,
from answers
inner join waves using (wave_id)
inner join handovers using (household_id)
where
    waves.wave_kind = 'baseline'
    and answers.prior_residual_bin_share is not null
group by answers.wave_id, answers.household_id, answers.answer_date
having answers.answer_date > min(handovers.handover_date)
order by answers.wave_id, answers.household_id
