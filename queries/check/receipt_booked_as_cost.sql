-- receipt_booked_as_cost: co-payments that the ledger books with a plus, as if spent.
--   A receipt has a minus; a plus is right only where a household got money back.
-- grain:  record_key
-- params:
-- reads:  costs
-- feeds:  checks.run_checks
select
    'doubtful' as severity,
    'costs' as table_name,
    cost_id as record_key,
    amount,
    cost_date,
from costs
where category = 'copayments_received' and amount > 0
order by cost_id
