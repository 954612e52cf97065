-- bins_promised: open cases whose bin is to be replaced and has not been yet.
-- grain:  one row
-- params: as_of
-- reads:  cases
-- feeds:  ordering.inputs.read_inputs
select count(*)::bigint as promised_count
from cases
where
    case_action = 'bin_replaced'
    and replacement_handover_id is null
    and opened_date <= $as_of
    and coalesce(closed_date > $as_of, true)
