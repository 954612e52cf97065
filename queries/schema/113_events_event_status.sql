-- 113_events_event_status: whether a hand-over day was cancelled.
-- grain:  event_id
-- params:
-- reads:
-- feeds:  store.migrations
alter table events add column event_status varchar
