-- blank_household_texts: the same in the rows of some households alone.
-- grain:  one row of {table}
-- params: households
-- reads:  {table}, incoming
-- feeds:  store.blanking
update {table}
set {column} = {blank}
where
    {column} in (select text from incoming)
    and list_contains($households::varchar[], {household})
