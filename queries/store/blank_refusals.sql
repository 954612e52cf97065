-- blank_refusals: empty refused cells that are or hold personal details of households.
-- grain:  one refusal
-- params: households, pattern
-- reads:  refusals
-- feeds:  store.erasing
update refusals
set value = ''
where
    value <> ''
    and (
        regexp_matches(value, $pattern, 'i')
        or (
            table_name in ('contacts', 'households')
            and list_contains($households::varchar[], record_key)
        )
    )
