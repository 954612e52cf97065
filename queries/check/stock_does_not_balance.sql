-- stock_does_not_balance: items of which a count found more or less than the books.
--   Followed from the first count or delivery of each item; a count is of the end of
--   its day.
-- grain:  record_key
-- params:
-- reads:  stage_deliveries, stage_stock_counts, stage_stock_handed
-- feeds:  checks.run_checks
with firsts as (
    select stock_item, delivered_date as first_date, null as counted_date,
    from stage_deliveries
    union all
    select stock_item, count_date, count_date,
    from stage_stock_counts
),

spans as (
    select
        stock_item,
        case
            when min(first_date) = min(counted_date) then min(counted_date) + 1
            else min(first_date)
        end::date as start_date,
    from firsts
    group by stock_item
),

moves as (
    select
        stock_item,
        delivered_date as moved_date,
        received_quantity - unusable_quantity as quantity,
    from stage_deliveries
    union all
    select stock_item, moved_date, returned_quantity - handed_quantity,
    from stage_stock_handed
    union all
    select stock_item, count_date, -lost_quantity,
    from stage_stock_counts
),

booked as (
    select
        counts.item_kind,
        counts.stock_item,
        counts.count_date,
        counts.counted_quantity,
        round(
            coalesce(any_value(openings.counted_quantity), 0.0)
            + coalesce(sum(moves.quantity), 0.0),
            6
        ) as book_quantity,
    from stage_stock_counts as counts
    inner join spans using (stock_item)
    left join stage_stock_counts as openings
        on openings.stock_item = counts.stock_item
        and openings.count_date = spans.start_date - 1
    left join moves
        on moves.stock_item = counts.stock_item
        and moves.moved_date >= spans.start_date
        and moves.moved_date <= counts.count_date
    where counts.count_date >= spans.start_date
    group by all
)

select
    'doubtful' as severity,
    'stock_counts' as table_name,
    stock_item || ', ' || count_date as record_key,
    round(counted_quantity, 3) as counted_quantity,
    round(book_quantity, 3) as book_quantity,
from booked
where
    abs(counted_quantity - book_quantity)
    > case item_kind when 'bins' then 0.5 else 0.1 end
order by record_key
