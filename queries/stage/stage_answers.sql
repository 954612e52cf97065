-- stage_answers: answers, with the state of the bin from whichever question tells it.
-- grain:  wave_id, household_id
-- params:
-- reads:  answers
-- feeds:  bins_held, diary_pairs, diary_weeks, followup_answers, households_by_wave,
--         households_to_thank, in_use_after_giveback, latest_record, prior_shares,
--         stage_states, stage_weighings, stage_who_was_asked, use_intervals,
--         wave_frames, wave_response, weighed_week_not_paired
select
    wave_id,
    household_id,
    answer_date,
    coalesce(
        is_in_use,
        case when stopped_date <= answer_date then false end,
        case when fed_kg_last_week > 0 or fed_litres_last_week > 0 then true end
    ) as is_in_use,
    stopped_date,
    fed_kg_last_week,
    fed_litres_last_week,
    prior_residual_bin_share,
    prior_garden_compost_share,
    prior_kerbside_organics_share,
    prior_animals_share,
    prior_other_share,
    would_have_composted_share,
    thrown_away_share,
from answers
order by wave_id, household_id
