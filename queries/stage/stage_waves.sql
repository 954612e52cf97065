-- stage_waves: survey rounds.
-- grain:  wave_id
-- params:
-- reads:  waves
-- feeds:  wave_frames, followup_answers, prior_shares
select
    wave_id,
    wave_kind,
    opens_date,
    closes_date,
from waves
order by wave_id
