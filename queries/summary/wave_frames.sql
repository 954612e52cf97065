-- wave_frames: households asked in each survey round, and whether each answered.
--   Those whose bins had come back when a followup opened are a stratum of their own.
-- grain:  wave_id, household_id
-- params: before_date
-- reads:  stage_who_was_asked, stage_answers
-- feeds:  survey.weights
select
    asked.wave_id,
    asked.wave_kind,
    asked.opens_date,
    asked.household_id,
    asked.area_id,
    asked.dwelling,
    case when asked.is_given_back then 'given back' else asked.stratum end as stratum,
    asked.unit_id,
    asked.inclusion_probability,
    case
        when asked.is_given_back then true
        when asked.wave_kind = 'baseline'
            then answers.prior_residual_bin_share is not null
        else coalesce(
            answers.is_in_use is not null
            and asked.first_handover_date <= answers.answer_date,
            false
        )
    end as has_answered,
from stage_who_was_asked as asked
left join stage_answers as answers using (wave_id, household_id)
where asked.opens_date < $before_date
order by asked.wave_id, asked.household_id
