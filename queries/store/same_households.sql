-- same_households: households with all those that were merged with them, however often.
-- grain:  household_id
-- params: households
-- reads:  household_merges, undone_loads
-- feeds:  store.keeping
with recursive standing as (
    select
        household_id,
        household_id_kept,
    from household_merges
    anti join undone_loads using (load_id)
),

links as (
    select
        household_id as one,
        household_id_kept as other,
    from standing
    union all
    select
        household_id_kept as one,
        household_id as other,
    from standing
),

together as (
    select unnest($households::varchar[]) as household_id
    union
    select links.other as household_id
    from together
    inner join links on links.one = together.household_id
)

select household_id
from together
order by household_id
