-- stage_states: what is known of each household's bin, day by day: in use when it is
--   handed over, in use or not as answered, out of use when the last bin came back.
-- grain:  household_id, state_date
-- params:
-- reads:  stage_held_bins, stage_answers, answers
-- feeds:  followup_register, stopping_spells
with told as (
    select
        household_id,
        first_handover_date as state_date,
        true as is_in_use,
        null as problem,
        null as fed_kg,
        null as fed_litres,
        false as ends_by_giveback,
        0 as says_more,
    from stage_held_bins
    union all
    select
        staged.household_id,
        staged.answer_date,
        staged.is_in_use,
        answers.problem,
        answers.fed_kg_last_week,
        answers.fed_litres_last_week,
        false,
        1,
    from stage_answers as staged
    inner join answers
        on
            answers.wave_id = staged.reported_in_wave_id
            and answers.household_id = staged.household_id
    inner join stage_held_bins as bins
        on
            staged.household_id = bins.household_id
            and staged.answer_date > bins.first_handover_date
            and staged.answer_date < coalesce(bins.all_back_date, date '9999-01-01')
    where staged.is_in_use is not null
    union all
    select household_id, all_back_date, false, null, null, null, true, 2,
    from stage_held_bins
    where all_back_date is not null
)

select
    household_id,
    state_date,
    is_in_use,
    problem,
    fed_kg,
    fed_litres,
    ends_by_giveback,
from told
qualify row_number() over (
    partition by household_id, state_date
    order by says_more desc, is_in_use
) = 1
order by household_id, state_date
