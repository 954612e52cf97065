-- 013_samples: the table samples.
-- grain:  wave_id, household_id
-- params:
-- reads:
-- feeds:  store.migrations
create table samples (
    wave_id varchar not null,
    household_id varchar not null,
    stratum varchar not null,
    cluster_id varchar,
    inclusion_probability double not null,
    load_id varchar not null,
    primary key (wave_id, household_id)
)
