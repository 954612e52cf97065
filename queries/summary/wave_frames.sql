-- wave_frames: households asked in each survey round, whether each answered, and what
--   was known of it before. Those whose bins had come back when a followup opened are
--   a stratum of their own and need no answer; nor do those that had told before that
--   they stopped: the state is settled. Some of the silent may have been drawn to be
--   asked again: with what probability, and whether the answer is to that.
-- grain:  wave_id, household_id
-- params: before_date
-- reads:  stage_who_was_asked, stage_answers
-- feeds:  survey.weights
with answered as (
    select
        asked.*,
        not asked.is_given_back
        and case
            when asked.wave_kind = 'baseline'
                then answers.prior_residual_bin_share is not null
            else coalesce(
                answers.is_in_use is not null
                and asked.first_handover_date <= answers.answer_date,
                false
            )
        end as has_answered,
        case
            when has_answered and asked.wave_kind = 'followup' then answers.is_in_use
        end as is_in_use,
        has_answered
        and asked.again_probability is not null
        and answers.is_asked_again as has_answered_again,
    from stage_who_was_asked as asked
    left join stage_answers as answers using (wave_id, household_id)
    where asked.opens_date < $before_date
),

earlier as (
    select
        answered.*,
        count(*) filter (where not answered.is_given_back) over history
            as asked_before_count,
        count(*) filter (where answered.has_answered) over history
            as answered_before_count,
    from answered
    window history as (
        partition by answered.household_id
        order by answered.opens_date, answered.wave_id
        rows between unbounded preceding and 1 preceding
    )
)

select
    earlier.wave_id,
    earlier.wave_kind,
    earlier.opens_date,
    earlier.household_id,
    earlier.area_id,
    earlier.dwelling,
    earlier.people,
    earlier.channel,
    case
        when earlier.wave_kind = 'followup'
            then coalesce(
                strftime(date_trunc('quarter', earlier.first_handover_date), '%Y-%m'),
                'none'
            )
        else 'none'
    end as cohort,
    case
        when earlier.last_reported_in_use then 'in use'
        when not earlier.last_reported_in_use then 'out of use'
        else 'not told'
    end as last_state,
    case
        when earlier.asked_before_count = 0 then 'not asked before'
        when earlier.answered_before_count = 0 then 'never'
        when earlier.answered_before_count < earlier.asked_before_count
            then 'sometimes'
        else 'always'
    end as answered_before,
    case
        when earlier.is_given_back then 'given back' else earlier.stratum
    end as stratum,
    earlier.unit_id,
    earlier.inclusion_probability,
    earlier.is_drawn,
    earlier.is_given_back,
    earlier.is_given_back
    or coalesce(not earlier.last_reported_in_use, false) as is_settled,
    earlier.has_answered,
    earlier.again_probability,
    earlier.has_answered_again,
    earlier.is_in_use,
from earlier
order by earlier.wave_id, earlier.household_id
