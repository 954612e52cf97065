-- distinct_texts: what a text column holds, each text once.
-- grain:  text
-- params:
-- reads:  {table}
-- feeds:  store.blanking, store.scanning
select distinct {column} as text
from {table}
where {column} is not null
order by text
