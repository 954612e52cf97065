-- stage_households: registered households, and from when each is known. An answer
--   proves that a household could be asked, whatever its day of registration.
-- grain:  household_id
-- params:
-- reads:  households, answers
-- feeds:  bins_by_area, diary_weeks, handovers_by_month,
--         households_back_by_month, households_by_group, households_by_wave,
--         registrations_by_month, stage_who_was_asked
with first_answers as (
    select
        household_id,
        min(answer_date) as answer_date,
    from answers
    group by household_id
)

select
    households.household_id,
    households.area_id,
    households.dwelling,
    households.people_count,
    households.registered_date,
    least(households.registered_date, first_answers.answer_date) as known_date,
    households.channel,
from households
left join first_answers using (household_id)
order by households.household_id
