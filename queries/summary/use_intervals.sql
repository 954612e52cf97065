-- use_intervals: between which ages each household asked in a follow-up stopped.
--   The newest of the rounds $wave_ids in which it was drawn weighs it. What is known
--   by its answer there counts: every answer (the newest decides after a pause), a
--   recalled day give or take a month, and the day on which all its bins had come
--   back when the round opened. Bins back later are left out: of those kept nothing
--   is heard then. A household that had told that it stopped, or whose bins had come
--   back, is known without an answer in its newest round. Others silent there have no
--   weight: those like them that answered stand for them; their rows serve bounds.
-- grain:  household_id
-- params: before_date, wave_ids
-- reads:  stage_who_was_asked, stage_answers, stage_handovers, stage_givebacks
-- feeds:  survey.use_intervals
with newest as (
    select
        asked.wave_id,
        asked.household_id,
        asked.area_id,
        asked.dwelling,
        asked.stratum,
        asked.inclusion_probability,
        asked.first_handover_date as entry_date,
        asked.opens_date,
        asked.is_given_back,
        asked.last_reported_in_use,
    from stage_who_was_asked as asked
    where
        asked.wave_kind = 'followup'
        and asked.opens_date < $before_date
        and asked.first_handover_date is not null
        and asked.is_drawn
        and list_contains($wave_ids::varchar[], asked.wave_id)
    qualify row_number() over (
        partition by asked.household_id
        order by asked.opens_date desc, asked.wave_id desc
    ) = 1
),

asked_until as (
    select
        newest.*,
        coalesce(
            answers.is_in_use is not null and newest.entry_date <= answers.answer_date,
            false
        ) as has_answered,
        has_answered
        or newest.is_given_back
        or coalesce(not newest.last_reported_in_use, false) as is_known,
        case
            when has_answered and not newest.is_given_back then answers.answer_date
            else newest.opens_date
        end as asked_date,
    from newest
    left join stage_answers as answers using (wave_id, household_id)
),

back as (
    select
        newest.household_id,
        max(givebacks.giveback_date) as back_date,
    from newest
    inner join stage_handovers as handovers using (household_id)
    inner join stage_givebacks as givebacks using (handover_id)
    where
        newest.is_given_back
        and givebacks.giveback_date <= newest.opens_date
    group by newest.household_id
),

told as (
    select
        asked_until.household_id,
        answers.answer_date,
        answers.is_in_use,
        answers.stopped_date,
        max(case when answers.is_in_use then answers.answer_date end) over (
            partition by asked_until.household_id
        ) as last_in_use_date,
    from asked_until
    inner join stage_answers as answers using (household_id)
    left join back using (household_id)
    where
        answers.is_in_use is not null
        and answers.answer_date >= asked_until.entry_date
        and answers.answer_date <= asked_until.asked_date
        and (back.back_date is null or answers.answer_date < back.back_date)
),

said as (
    select
        told.household_id,
        any_value(told.last_in_use_date) as last_in_use_date,
        min(told.answer_date) filter (where not told.is_in_use) as first_out_date,
        arg_min(told.stopped_date, told.answer_date) filter (
            where told.stopped_date is not null
            and told.stopped_date + interval 1 month
            > coalesce(told.last_in_use_date, date '0001-01-01')
        ) as stopped_date,
    from told
    where
        told.last_in_use_date is null
        or told.answer_date >= told.last_in_use_date
    group by told.household_id
),

known as (
    select
        asked_until.*,
        back.back_date,
        case when said.first_out_date is not null then said.stopped_date end
            as recalled_date,
        least(
            said.first_out_date,
            back.back_date,
            (recalled_date + interval 1 month)::date
        ) as out_date,
        back.back_date is not null
        and out_date = back.back_date as is_exact,
        greatest(
            asked_until.entry_date,
            said.last_in_use_date,
            (recalled_date - interval 1 month)::date
        ) as use_date,
    from asked_until
    left join back using (household_id)
    left join said using (household_id)
)

select
    known.household_id,
    known.wave_id,
    known.area_id,
    known.dwelling,
    known.stratum,
    known.inclusion_probability,
    known.entry_date,
    greatest(date_diff('day', known.entry_date, known.asked_date), 0)::bigint
        as asked_age_days,
    known.is_known,
    known.is_given_back,
    case
        when known.is_exact then date_diff('day', known.entry_date, known.out_date)
        else date_diff('day', known.entry_date, known.use_date)
    end::bigint as last_in_use_age_days,
    case
        when known.is_exact then date_diff('day', known.entry_date, known.out_date)
        when known.out_date is not null then greatest(
            date_diff('day', known.entry_date, known.out_date),
            last_in_use_age_days + 1
        )
    end::bigint as first_out_of_use_age_days,
    known.is_exact,
from known
order by known.household_id
