-- 111_offers_travels_from_c: the coldest hour that worms are sent through.
-- grain:  offer_id
-- params:
-- reads:
-- feeds:  store.migrations
alter table offers add column travels_from_c double
