-- blank_serials: take personal details out of serials, the one free text of a bin.
-- grain:  handover_id
-- params: pattern
-- reads:  handovers
-- feeds:  store.erasing
update handovers
set serial = null
where regexp_matches(serial, $pattern, 'i')
