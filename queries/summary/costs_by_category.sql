-- costs_by_category: the ledger by category, in the reporting year and to date.
-- grain:  category
-- params: from_date, before_date
-- reads:  stage_costs
-- feeds:  money.ledger.program_cost
select
    category,
    coalesce(
        sum(amount) filter (where cost_date >= $from_date), 0.0
    )::double as amount_in_year,
    sum(amount)::double as amount_to_date,
    count(*) filter (where cost_date >= $from_date)::bigint as lines_in_year_count,
    count(*)::bigint as lines_count,
from stage_costs
where cost_date < $before_date
group by category
order by category
