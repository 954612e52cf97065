-- made_good: bins topped up and replaced between two days, and what the ledger lines
--   that their cases name come to.
-- grain:  one row
-- params: from_date, as_of
-- reads:  cases, costs
-- feeds:  field.case_list
select
    count(*) filter (where cases.worms_kg > 0)::bigint as topped_up_count,
    coalesce(sum(cases.worms_kg), 0.0)::double as topped_up_kg,
    count(cases.replacement_handover_id)::bigint as replaced_count,
    coalesce(sum(costs.amount), 0.0)::double as booked_amount,
from cases
left join costs using (cost_id)
where cases.action_date > $from_date and cases.action_date <= $as_of
