-- 110_offers_packing: how worms are packed against heat or frost.
-- grain:  offer_id
-- params:
-- reads:
-- feeds:  store.migrations
alter table offers add column packing varchar
