-- 012_waves: the table waves.
-- grain:  wave_id
-- params:
-- reads:
-- feeds:  store.migrations
create table waves (
    wave_id varchar not null,
    wave_kind varchar not null,
    opens_date date not null,
    closes_date date not null,
    load_id varchar not null,
    primary key (wave_id)
)
