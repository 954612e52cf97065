-- contacts_as_committed: contacts as the last load that ended left them.
-- grain:  household_id
-- params: known_load_ids
-- reads:  contacts, history
-- feeds:  store.contacts
with finished as (
    select {columns}
    from contacts
    where list_contains($known_load_ids::varchar[], load_id)
),

replaced as (
    select {restored_columns}
    from history
    where
        not list_contains($known_load_ids::varchar[], replaced_by_load_id)
        and list_contains($known_load_ids::varchar[], load_id)
)

select {columns} from finished
union all
select {columns} from replaced
order by household_id
