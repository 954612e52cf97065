-- 014_answers: the table answers.
-- grain:  wave_id, household_id
-- params:
-- reads:
-- feeds:  store.migrations
create table answers (
    wave_id varchar not null,
    household_id varchar not null,
    answer_date date not null,
    is_in_use boolean,
    stopped_date date,
    fed_kg_last_week double,
    fed_litres_last_week double,
    prior_residual_bin_share double,
    prior_garden_compost_share double,
    prior_kerbside_organics_share double,
    prior_animals_share double,
    prior_other_share double,
    trays_count bigint,
    castings_kg double,
    problem varchar,
    load_id varchar not null,
    primary key (wave_id, household_id)
)
