-- prior_shares: where each answering household's food scraps went before it had a bin.
-- grain:  wave_id, household_id
-- params: before_date
-- reads:  stage_answers, stage_waves, stage_households, stage_areas
-- feeds:  survey.prior_routes
select
    answers.wave_id,
    answers.household_id,
    households.area_id,
    households.dwelling,
    areas.kerbside_service,
    answers.prior_residual_bin_share,
    answers.prior_garden_compost_share,
    answers.prior_kerbside_organics_share,
    answers.prior_animals_share,
    answers.prior_other_share,
from stage_answers as answers
inner join stage_waves as waves using (wave_id)
inner join stage_households as households using (household_id)
inner join stage_areas as areas using (area_id)
where
    waves.wave_kind = 'baseline'
    and waves.opens_date < $before_date
    and answers.prior_residual_bin_share is not null
order by answers.wave_id, answers.household_id
