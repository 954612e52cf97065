-- reopen_refusals: open the refusals again that a load had resolved.
-- grain:  one refusal
-- params: load_id
-- reads:  refusals
-- feeds:  store.undoing
update refusals
set resolved_by_load_id = null
where resolved_by_load_id = $load_id
