-- copayments_at_handover: what households paid for their bins, as hand-overs say, in
--   the reporting year and to date, with how many paid and how many bins there were.
-- grain:  one row
-- params: from_date, before_date
-- reads:  stage_handovers
-- feeds:  money.ledger.copayments
with given as (
    select
        -- decimals add up to the same in whatever order threads take them
        copayment::decimal(18, 12) as copayment,
        handover_date >= $from_date as is_in_year,
    from stage_handovers
    where handover_date < $before_date
)

select
    coalesce(sum(copayment) filter (where is_in_year), 0)::double as paid_in_year,
    coalesce(sum(copayment), 0)::double as paid_to_date,
    count(*) filter (
        where is_in_year and copayment > 0
    )::bigint as payers_in_year,
    count(*) filter (where copayment > 0)::bigint as payers_to_date,
    count(*) filter (where is_in_year)::bigint as bins_in_year,
    count(*)::bigint as bins_to_date,
from given
