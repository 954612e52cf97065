-- call_without_consent: calls to households that may not be contacted.
-- grain:  record_key
-- params:
-- reads:  calls, households
-- feeds:  checks.run_checks
select
    'wrong' as severity,
    'calls' as table_name,
    calls.household_id || ' | ' || calls.call_date as record_key,
    calls.household_id,
from calls
inner join households using (household_id)
where not households.may_contact
order by calls.household_id, calls.call_date
