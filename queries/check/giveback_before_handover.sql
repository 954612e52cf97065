-- giveback_before_handover: bins that came back before they were given.
-- grain:  record_key
-- params:
-- reads:  givebacks, handovers
-- feeds:  checks.run_checks
select
    'wrong' as severity,
    'givebacks' as table_name,
    givebacks.handover_id as record_key,
    'came back ' || givebacks.giveback_date || ', given ' || handovers.handover_date
        as found,
    'Correct giveback_date, or handover_date of the bin.' as advice,
from givebacks
inner join handovers using (handover_id)
where givebacks.giveback_date < handovers.handover_date
order by givebacks.handover_id
