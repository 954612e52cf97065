-- 112_offers_travels_to_c: the warmest hour that worms are sent through.
-- grain:  offer_id
-- params:
-- reads:
-- feeds:  store.migrations
alter table offers add column travels_to_c double
