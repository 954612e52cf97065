-- stage_waves: survey rounds. One that asks the silent of another again is a part of
--   that other.
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
where follows_wave_id is null
order by wave_id
