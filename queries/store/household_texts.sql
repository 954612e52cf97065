-- household_texts: what a text column holds in the rows of some households.
-- grain:  text
-- params: households
-- reads:  {table}
-- feeds:  store.blanking
select distinct {column} as text
from {table}
where
    {column} is not null
    and list_contains($households::varchar[], {household})
order by text
