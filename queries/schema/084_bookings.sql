-- 084_bookings: the table bookings.
-- grain:  booking_id
-- params:
-- reads:
-- feeds:  store.migrations
create table bookings (
    booking_id varchar not null,
    household_id varchar not null,
    event_id varchar not null,
    offered_date date not null,
    state varchar not null,
    slot varchar,
    model_id varchar,
    load_id varchar not null,
    primary key (booking_id)
)
