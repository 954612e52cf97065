-- replaced_bin_not_back: bins that were replaced and still count as held.
-- grain:  record_key
-- params:
-- reads:  cases, givebacks
-- feeds:  checks.run_checks
select
    'doubtful' as severity,
    'cases' as table_name,
    cases.case_id as record_key,
    cases.handover_id,
from cases
left join givebacks using (handover_id)
where
    cases.case_action = 'bin_replaced'
    and cases.handover_id is not null
    and givebacks.handover_id is null
order by cases.case_id
