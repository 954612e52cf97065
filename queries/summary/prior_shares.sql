-- prior_shares: where each answering household's food scraps went before it had a bin.
--   An answer given after the day of its own first bin is recall.
-- grain:  wave_id, household_id
-- params: before_date
-- reads:  stage_who_was_asked, stage_answers, stage_areas
-- feeds:  survey.prior_routes
select
    asked.wave_id,
    asked.opens_date,
    asked.household_id,
    asked.area_id,
    asked.dwelling,
    areas.kerbside_service,
    coalesce(asked.first_handover_date < answers.answer_date, false) as is_recalled,
    answers.prior_residual_bin_share,
    answers.prior_garden_compost_share,
    answers.prior_kerbside_organics_share,
    answers.prior_animals_share,
    answers.prior_other_share,
from stage_who_was_asked as asked
inner join stage_answers as answers using (wave_id, household_id)
inner join stage_areas as areas using (area_id)
where
    asked.wave_kind = 'baseline'
    and asked.opens_date < $before_date
    and answers.prior_residual_bin_share is not null
order by asked.wave_id, asked.household_id
