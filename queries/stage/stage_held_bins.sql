-- stage_held_bins: the newest bin of each household, and the day on which the last of
--   its bins had come back, where all have.
-- grain:  household_id
-- params:
-- reads:  handovers, givebacks
-- feeds:  followup_register, open_cases, stage_states, stopping_spells
select
    handovers.household_id,
    min(handovers.handover_date) as first_handover_date,
    max(handovers.handover_date) as newest_handover_date,
    arg_max(
        handovers.model_id, (handovers.handover_date, handovers.handover_id)
    ) as model_id,
    case
        when bool_and(givebacks.giveback_date is not null)
            then max(givebacks.giveback_date)
    end as all_back_date,
from handovers
left join givebacks using (handover_id)
group by handovers.household_id
order by handovers.household_id
