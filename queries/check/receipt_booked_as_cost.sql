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
    'co-payment of ' || amount || ' on ' || cost_date as found,
    'Write a receipt with a minus, and keep the plus where it was paid back.' as advice,
from costs
where category = 'copayments_received' and amount > 0
order by cost_id
