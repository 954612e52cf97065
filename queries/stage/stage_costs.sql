-- stage_costs: ledger lines with their month.
-- grain:  cost_id
-- params:
-- reads:  costs
-- feeds:  costs_by_category, costs_by_month, latest_record, ledger_lines
select
    cost_id,
    cost_date,
    date_trunc('month', cost_date)::date as cost_month,
    category,
    amount,
from costs
order by cost_id
