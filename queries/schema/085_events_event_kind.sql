-- 085_events_event_kind: whether households collect or bins are brought.
-- grain:  event_id
-- params:
-- reads:
-- feeds:  store.migrations
alter table events add column event_kind varchar
