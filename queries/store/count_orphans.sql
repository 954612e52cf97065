-- count_orphans: records of {table} whose {link} is not among {parent}.
-- grain:  one row
-- params:
-- reads:  {table}, {parent}
-- feeds:  store.undoing
select count(*)::bigint as records_count
from {table} as child
anti join {parent} as parent on child.{link} = parent.{parent_key}
where child.{link} is not null
