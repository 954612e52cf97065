-- waiting_list: households that wait for a bin, each with its number in the draw:
--   SHA-256 of the words given and the household_id. Waiting are those on the list that
--   hold neither a bin nor a place; latest_date is the last day of a place they had.
-- grain:  household_id
-- params: seed_words, on_date
-- reads:  registrations, households, areas, bookings, events, handovers, givebacks,
--         drop_points, erasures
-- feeds:  field.booking.book_places
with bins as (
    select distinct handovers.household_id
    from handovers
    left join givebacks using (handover_id)
    where givebacks.handover_id is null
),

past as (
    select
        bookings.household_id,
        bool_or(
            bookings.state in ('offered', 'accepted')
            and coalesce(events.event_status, 'planned') <> 'cancelled'
        ) as has_place,
        count(*) filter (where bookings.state = 'absent') as absent_count,
        max(events.event_date) as latest_date,
    from bookings
    inner join events using (event_id)
    group by bookings.household_id
)

select
    registrations.household_id,
    households.area_id,
    registrations.registered_date,
    coalesce(registrations.has_priority, false) or areas.is_priority as is_priority,
    coalesce(registrations.access_need, 'none') as access_need,
    registrations.model_id,
    registrations.event_id,
    registrations.drop_point_id,
    drop_points.place_name,
    coalesce(past.absent_count, 0) as absent_count,
    past.latest_date,
    sha256($seed_words || '|' || registrations.household_id) as draw_number,
from registrations
inner join households using (household_id)
inner join areas using (area_id)
left join drop_points using (drop_point_id)
left join past using (household_id)
anti join bins using (household_id)
anti join erasures using (household_id)
where
    registrations.registered_date <= $on_date
    and not coalesce(past.has_place, false)
order by registrations.household_id
