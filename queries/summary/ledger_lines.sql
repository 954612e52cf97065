-- ledger_lines: what the ledger paid, line by line; what households paid is left out.
-- grain:  cost_date, cost_id
-- params: from_date, before_date
-- reads:  stage_costs
-- feeds:  report.acquittal
select
    cost_id,
    cost_date,
    category,
    amount,
from stage_costs
where
    cost_date >= $from_date
    and cost_date < $before_date
    and category != 'copayments_received'
order by cost_date, cost_id
