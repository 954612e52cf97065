-- stage_waves: survey rounds.
-- grain:  wave_id
-- params:
-- reads:  waves
-- feeds:  diary_pairs, followup_answers, prior_shares, wave_frames, wave_response
select
    wave_id,
    wave_kind,
    opens_date,
    closes_date,
from waves
order by wave_id
