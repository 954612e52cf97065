-- households_to_thank: holders of a bin who may be contacted, with their last feed.
-- grain:  household_id
-- params:
-- reads:  households, areas, stage_handovers, stage_givebacks, stage_answers
-- feeds:  field.household_sheet.letters_of
with holding as (
    select distinct handovers.household_id
    from stage_handovers as handovers
    left join stage_givebacks as givebacks using (handover_id)
    where givebacks.handover_id is null
),

last_fed as (
    select household_id, arg_max(fed_kg_last_week, answer_date) as fed_kg_last_week
    from stage_answers
    where fed_kg_last_week > 0
    group by household_id
),

last_state as (
    select household_id, arg_max(is_in_use, answer_date) as is_in_use
    from stage_answers
    where is_in_use is not null
    group by household_id
)

select
    households.household_id,
    households.area_id,
    areas.area_name,
    last_fed.fed_kg_last_week,
from households
inner join holding using (household_id)
inner join areas using (area_id)
left join last_fed using (household_id)
left join last_state using (household_id)
where
    households.may_contact
    and coalesce(last_state.is_in_use, true)
order by households.household_id
