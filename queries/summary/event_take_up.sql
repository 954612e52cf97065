-- event_take_up: places of each hand-over day and the bins that were taken there.
-- grain:  event_date, event_id
-- params: before_date
-- reads:  events, handovers
-- feeds:  report.forecasting
with taken as (
    select
        event_id,
        count(*) as bins_given,
    from handovers
    where
        event_id is not null
        and handover_date < $before_date
    group by event_id
)

select
    events.event_id,
    events.event_date,
    events.places_count,
    coalesce(taken.bins_given, 0) as bins_given,
from events
left join taken using (event_id)
where
    events.event_date < $before_date
    and events.places_count > 0
    and coalesce(events.event_status, 'planned') <> 'cancelled'
order by events.event_date, events.event_id
