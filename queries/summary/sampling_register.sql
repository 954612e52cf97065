-- sampling_register: registered households from whom a survey round can be drawn, with
--   a random number of their own: SHA-256 of the words given and the household_id.
--   Asked lately are those of rounds that open from since_date on: by chance, or with
--   everyone of their kind. A household whose bins had come back needed no answer;
--   one whose details were erased may not be contacted.
-- grain:  household_id
-- params: seed_words, on_date, since_date
-- reads:  households, handovers, givebacks, stage_who_was_asked, erasures
-- feeds:  sampling.drawing
with asked_lately as (
    select
        household_id,
        bool_or(inclusion_probability < 1.0) as is_drawn_lately,
        bool_or(inclusion_probability >= 1.0) as is_asked_with_all_lately,
    from stage_who_was_asked
    where opens_date >= $since_date and not is_given_back
    group by household_id
),

bins as (
    select
        handovers.household_id,
        bool_or(
            givebacks.giveback_date is null or givebacks.giveback_date > $on_date
        ) as has_bin,
    from handovers
    left join givebacks using (handover_id)
    where handovers.handover_date <= $on_date
    group by handovers.household_id
)

select
    households.household_id,
    households.area_id,
    households.dwelling,
    households.may_contact and erasures.household_id is null as may_contact,
    bins.household_id is not null as had_bin,
    coalesce(bins.has_bin, false) as has_bin,
    coalesce(asked_lately.is_drawn_lately, false) as is_drawn_lately,
    coalesce(asked_lately.is_asked_with_all_lately, false) as is_asked_with_all_lately,
    ('0x' || left(sha256($seed_words || '|' || households.household_id), 16))::ubigint
    / 18446744073709551616.0::double as random_number,
from households
left join bins using (household_id)
left join asked_lately using (household_id)
left join erasures using (household_id)
where households.registered_date <= $on_date
order by households.household_id
