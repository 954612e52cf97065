-- costs_by_month: the ledger's sum of each month, receipts taken off.
-- grain:  cost_month
-- params: before_date
-- reads:  stage_costs
-- feeds:  money.appraisal.cash_flow
select
    cost_month,
    sum(amount)::double as amount,
from stage_costs
where cost_date < $before_date
group by cost_month
order by cost_month
