-- places_called_off: places at days ahead that households hold no more: the day was
--   called off, or they declined or moved. Bins that are brought have no calendar file.
-- grain:  booking_id
-- params: on_date
-- reads:  bookings, events, areas, erasures
-- feeds:  field.invitations.read_called_off
select
    bookings.booking_id,
    bookings.household_id,
    bookings.event_id,
    bookings.offered_date,
    events.event_date,
    left(cast(cast(bookings.slot as time) as varchar), 5) as slot,
    coalesce(events.venue, areas.area_name, '') as venue,
    case
        when coalesce(events.event_status = 'cancelled', false) then 'day called off'
        else bookings.state
    end as why,
from bookings
inner join events using (event_id)
left join areas using (area_id)
anti join erasures using (household_id)
where
    events.event_date >= $on_date
    and bookings.offered_date <= $on_date
    and coalesce(events.event_kind, 'pick_up') = 'pick_up'
    and bookings.slot is not null
    and (
        bookings.state in ('declined', 'moved')
        or (
            bookings.state in ('offered', 'accepted')
            and coalesce(events.event_status = 'cancelled', false)
        )
    )
order by bookings.booking_id
