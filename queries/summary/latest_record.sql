-- latest_record: the newest day of any hand-over, answer or ledger line.
-- grain:  one row
-- params:
-- reads:  stage_handovers, stage_answers, stage_costs
-- feeds:  report.year
select max(record_date) as latest_date
from (
    select max(handover_date) as record_date
    from stage_handovers
    union all
    select max(answer_date) as record_date
    from stage_answers
    union all
    select max(cost_date) as record_date
    from stage_costs
)
