-- blank_texts: put {blank} in the place of the texts that came in.
-- grain:  one row of {table}
-- params:
-- reads:  {table}, incoming
-- feeds:  store.blanking
update {table}
set {column} = {blank}
where {column} in (select text from incoming)
