-- finish_erasures: note that erasures are done.
-- grain:  household_id
-- params: households, finished_at
-- reads:  erasures
-- feeds:  store.erasing
update erasures
set finished_at = $finished_at
where list_contains($households::varchar[], household_id)
