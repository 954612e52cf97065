-- cost_amounts_by_fate: sums of the new and the corrected ledger lines.
-- grain:  one row
-- params:
-- reads:  incoming, costs
-- feeds:  store.writing
select
    coalesce(
        sum(incoming.amount) filter (where costs.cost_id is null), 0.0
    ) as new_amount,
    coalesce(
        sum(incoming.amount) filter (
            where costs.cost_id is not null
            and row(incoming.cost_date, incoming.category, incoming.amount)
                is distinct from row(costs.cost_date, costs.category, costs.amount)
        ),
        0.0
    ) as corrected_amount,
from incoming
left join costs using (cost_id)
