-- answer_not_counted: answers of households that the round did not ask, by the records.
-- grain:  record_key
-- params:
-- reads:  answers, waves, samples, handovers, stage_who_was_asked
-- feeds:  checks.run_checks
with first_bins as (
    select
        household_id,
        min(handover_date) as handover_date,
    from handovers
    group by household_id
),

drawn as (
    select distinct wave_id as drawn_id
    from samples
)

select
    'wrong' as severity,
    'answers' as table_name,
    answers.wave_id || ' | ' || answers.household_id as record_key,
    answers.answer_date,
    first_bins.handover_date,
    case
        when drawn.drawn_id is not null then 'not_drawn'
        when waves.wave_kind = 'baseline' then 'registered_later'
        else 'bin_later'
    end as found_as,
    found_as as advice_as,
from answers
inner join waves using (wave_id)
left join first_bins using (household_id)
left join drawn on drawn.drawn_id = answers.wave_id
anti join stage_who_was_asked as asked using (wave_id, household_id)
where waves.wave_kind = 'baseline' or first_bins.handover_date is not null
order by answers.wave_id, answers.household_id
