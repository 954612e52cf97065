-- look_up_keys: look every row up in the index; add those that it does not find.
-- grain:  one row
-- params:
-- reads:  {table}
-- feeds:  store.sealing
insert into {table} by name
select *
from {table}
on conflict do nothing
