-- live_deliveries: deliveries of live worms, by supplier, with what was dead.
-- grain:  delivery_id
-- params: before_date
-- reads:  stage_deliveries
-- feeds:  ordering.inputs.read_inputs
select
    delivery_id,
    supplier_id,
    delivered_date,
    received_quantity as received_kg,
    unusable_quantity as dead_kg,
from stage_deliveries
where
    item_kind = 'worms'
    and received_quantity > 0
    and delivered_date < $before_date
order by delivery_id
