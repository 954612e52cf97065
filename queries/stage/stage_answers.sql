-- stage_answers: answers, with the state of the bin from whichever question tells it.
--   An answer to a round that asks the silent of another again is one to that other;
--   of two, the one that says more and then the earlier round's counts.
-- grain:  wave_id, household_id
-- params:
-- reads:  answers, waves
-- feeds:  bins_held, diary_pairs, diary_weeks, followup_answers, households_by_wave,
--         households_to_thank, in_use_after_giveback, latest_record, prior_shares,
--         silent_register, stage_states, stage_weighings, stage_who_was_asked,
--         use_intervals, wave_frames, wave_response, weighed_week_not_paired
with placed as (
    select
        answers.*,
        coalesce(waves.follows_wave_id, answers.wave_id) as round_id,
        waves.follows_wave_id is not null as is_asked_again,
        coalesce(
            answers.is_in_use,
            case when answers.stopped_date <= answers.answer_date then false end,
            case
                when answers.fed_kg_last_week > 0 or answers.fed_litres_last_week > 0
                    then true
            end
        ) as reported_in_use,
    from answers
    left join waves using (wave_id)
)

select
    round_id as wave_id,
    household_id,
    wave_id as reported_in_wave_id,
    is_asked_again,
    answer_date,
    reported_in_use as is_in_use,
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
from placed
qualify row_number() over (
    partition by round_id, household_id
    order by
        reported_in_use is null and prior_residual_bin_share is null,
        is_asked_again,
        wave_id
) = 1
order by round_id, household_id
