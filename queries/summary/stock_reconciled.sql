-- stock_reconciled: what was ordered, came, was handed over, was lost and is in store.
--   An item is followed from its first count, or its first delivery where that is
--   earlier. A count is of the end of its day. What the last count finds beyond the
--   books is unexplained; to the milligram,
--   opening + received + returned + unexplained = unusable + handed + lost + in stock.
-- grain:  item_kind, stock_item
-- params: as_of
-- reads:  stage_orders, stage_deliveries, stage_stock_counts, stage_stock_handed
-- feeds:  ordering.inputs.read_inputs
with came as (
    select
        order_line_id,
        sum(received_quantity) as received_quantity,
        sum(short_quantity) as short_quantity,
    from stage_deliveries
    where delivered_date <= $as_of
    group by order_line_id
),

settled as (
    select
        orders.item_kind,
        orders.stock_item,
        orders.ordered_quantity,
        coalesce(came.short_quantity, 0.0) as short_quantity,
        orders.ordered_quantity
        - coalesce(came.received_quantity, 0.0)
        - coalesce(came.short_quantity, 0.0) as open_quantity,
    from stage_orders as orders
    left join came using (order_line_id)
    where orders.order_date <= $as_of
),

ordered as (
    select
        item_kind,
        stock_item,
        sum(ordered_quantity) as ordered_quantity,
        sum(short_quantity) as short_quantity,
        sum(greatest(open_quantity, 0.0)) as outstanding_quantity,
        sum(greatest(-open_quantity, 0.0)) as over_quantity,
    from settled
    group by item_kind, stock_item
),

seen as (
    select item_kind, stock_item, delivered_date as first_date, null as counted_date,
    from stage_deliveries
    where delivered_date <= $as_of
    union all
    select item_kind, stock_item, count_date, count_date,
    from stage_stock_counts
    where count_date <= $as_of
),

spans as (
    select
        item_kind,
        stock_item,
        case
            when min(first_date) = min(counted_date) then min(counted_date) + 1
            else min(first_date)
        end::date as start_date,
        max(counted_date)::date as last_count_date,
    from seen
    group by item_kind, stock_item
),

moves as (
    select
        stock_item,
        delivered_date as moved_date,
        received_quantity,
        unusable_quantity,
        0.0 as handed_quantity,
        0.0 as returned_quantity,
        0.0 as lost_quantity,
    from stage_deliveries
    union all
    select stock_item, moved_date, 0.0, 0.0, handed_quantity, returned_quantity, 0.0,
    from stage_stock_handed
    union all
    select stock_item, count_date, 0.0, 0.0, 0.0, 0.0, lost_quantity,
    from stage_stock_counts
),

sums as (
    select
        spans.item_kind,
        spans.stock_item,
        spans.start_date,
        coalesce(
            any_value(openings.counted_quantity), 0.0
        ) as opening_quantity,
        coalesce(sum(moves.received_quantity), 0.0) as received_quantity,
        coalesce(sum(moves.unusable_quantity), 0.0) as unusable_quantity,
        coalesce(sum(moves.handed_quantity), 0.0) as handed_quantity,
        coalesce(sum(moves.returned_quantity), 0.0) as returned_quantity,
        coalesce(sum(moves.lost_quantity), 0.0) as lost_quantity,
        coalesce(
            sum(
                moves.received_quantity + moves.returned_quantity
                - moves.unusable_quantity - moves.handed_quantity
                - moves.lost_quantity
            ) filter (where moves.moved_date <= spans.last_count_date),
            0.0
        ) as moved_until_count,
        any_value(counts.counted_quantity) as counted_quantity,
    from spans
    left join moves
        on moves.stock_item = spans.stock_item
        and moves.moved_date >= spans.start_date
        and moves.moved_date <= $as_of
    left join stage_stock_counts as openings
        on openings.stock_item = spans.stock_item
        and openings.count_date = spans.start_date - 1
    left join stage_stock_counts as counts
        on counts.stock_item = spans.stock_item
        and counts.count_date = spans.last_count_date
    group by spans.item_kind, spans.stock_item, spans.start_date
),

balanced as (
    select
        *,
        round(
            coalesce(counted_quantity - opening_quantity - moved_until_count, 0.0), 6
        ) as unexplained_quantity,
    from sums
)

select
    coalesce(balanced.item_kind, ordered.item_kind) as item_kind,
    coalesce(balanced.stock_item, ordered.stock_item) as stock_item,
    balanced.start_date,
    coalesce(ordered.ordered_quantity, 0.0) as ordered_quantity,
    coalesce(ordered.short_quantity, 0.0) as short_quantity,
    coalesce(ordered.outstanding_quantity, 0.0) as outstanding_quantity,
    coalesce(ordered.over_quantity, 0.0) as over_quantity,
    coalesce(balanced.opening_quantity, 0.0) as opening_quantity,
    coalesce(balanced.received_quantity, 0.0) as received_quantity,
    coalesce(balanced.unusable_quantity, 0.0) as unusable_quantity,
    coalesce(balanced.handed_quantity, 0.0) as handed_quantity,
    coalesce(balanced.returned_quantity, 0.0) as returned_quantity,
    coalesce(balanced.lost_quantity, 0.0) as lost_quantity,
    coalesce(balanced.unexplained_quantity, 0.0) as unexplained_quantity,
    round(
        coalesce(
            balanced.opening_quantity + balanced.received_quantity
            + balanced.returned_quantity + balanced.unexplained_quantity
            - balanced.unusable_quantity - balanced.handed_quantity
            - balanced.lost_quantity,
            0.0
        ),
        6
    ) as in_stock_quantity,
from balanced
full outer join ordered using (item_kind, stock_item)
order by item_kind, stock_item
