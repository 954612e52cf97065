-- forget_undone_refusals: drop the refusals of a load that is taken back.
-- grain:  one refusal
-- params: load_id
-- reads:  refusals
-- feeds:  store.undoing
delete from refusals
where load_id = $load_id
