-- silent_register: households of a round whose answer was awaited, and whether it came,
--   with a random number of their own: SHA-256 of the words given and the household_id.
--   Nothing was awaited of those whose bins had come back, or that had told before that
--   they had stopped. One whose details were erased may not be contacted.
-- grain:  household_id
-- params: seed_words, wave_id
-- reads:  stage_who_was_asked, stage_answers, households, erasures
-- feeds:  sampling.drawing
select
    asked.household_id,
    asked.area_id,
    asked.dwelling,
    asked.wave_kind,
    households.may_contact and erasures.household_id is null as may_contact,
    case
        when asked.wave_kind = 'baseline'
            then answers.prior_residual_bin_share is not null
        else coalesce(
            answers.is_in_use is not null
            and asked.first_handover_date <= answers.answer_date,
            false
        )
    end as has_answered,
    asked.again_probability is not null as is_asked_again,
    ('0x' || left(sha256($seed_words || '|' || asked.household_id), 16))::ubigint
    / 18446744073709551616.0::double as random_number,
from stage_who_was_asked as asked
inner join households using (household_id)
left join stage_answers as answers using (wave_id, household_id)
left join erasures using (household_id)
where
    asked.wave_id = $wave_id
    and asked.is_drawn
    and not asked.is_given_back
    and coalesce(asked.last_reported_in_use, true)
order by asked.household_id
