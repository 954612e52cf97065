-- promised_by_cases: what open cases promise and the store still has to give: bins in
--   place of dead ones, worms to top bins up; and what a top-up usually took so far.
-- grain:  one row
-- params: as_of
-- reads:  cases
-- feeds:  ordering.inputs.read_inputs
with still_open as (
    select *
    from cases
    where
        opened_date <= $as_of
        and coalesce(closed_date > $as_of, true)
),

given as (
    select median(worms_kg) as usual_top_up_kg
    from cases
    where worms_kg > 0 and action_date <= $as_of
)

select
    count(*) filter (
        where still_open.case_action = 'bin_replaced'
        and still_open.replacement_handover_id is null
    )::bigint as bins_count,
    count(*) filter (
        where still_open.case_action = 'worms_topped_up'
        and still_open.worms_kg is null
    )::bigint as top_ups_count,
    max(given.usual_top_up_kg) as usual_top_up_kg,
from given
left join still_open on true
