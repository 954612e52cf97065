-- stage_waves: survey rounds.
-- grain:  wave_id
-- params:
-- reads:  waves
-- feeds:  households_by_wave, stage_who_was_asked, stopping_spells, wave_response,
--         weighed_week_not_paired
select
    wave_id,
    wave_kind,
    opens_date,
    closes_date,
from waves
order by wave_id
