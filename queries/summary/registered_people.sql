-- registered_people: registered households and the people in them.
-- grain:  households_count
-- params:
-- reads:  households
-- feeds:  ordering.inputs.read_inputs
select
    count(*)::bigint as households_count,
    coalesce(sum(people_count), 0)::bigint as people_count,
from households
order by households_count
