-- resolve_by_row: mark refusals whose rows came back in a copy, taken in or not.
-- grain:  one refusal
-- params: load_id
-- reads:  incoming, refusals
-- feeds:  store.writing
update refusals
set resolved_by_load_id = $load_id
from incoming
where
    refusals.load_id = incoming.load_id
    and refusals.sheet = incoming.sheet
    and refusals.row_number = incoming.row_number
    and refusals.resolved_by_load_id is null
