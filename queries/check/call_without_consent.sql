-- call_without_consent: calls to households that may not be contacted.
-- grain:  record_key
-- params:
-- reads:  calls, households
-- feeds:  checks.run_checks
select
    'wrong' as severity,
    'calls' as table_name,
    calls.household_id || ' | ' || calls.call_date as record_key,
    'household ' || calls.household_id || ' has may_contact = no' as found,
    'Do not call it again. Correct may_contact if it has agreed since.' as advice,
from calls
inner join households using (household_id)
where not households.may_contact
order by calls.household_id, calls.call_date
