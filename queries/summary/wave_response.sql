-- wave_response: households asked and answers received in each survey round, and how
--   many of its silent households were drawn to be asked again.
-- grain:  wave_id
-- params: before_date
-- reads:  stage_waves, waves, samples, stage_answers
-- feeds:  report.document.contents.Quality
with asked as (
    select
        wave_id,
        count(*)::bigint as asked_count,
    from samples
    group by wave_id
),

answered as (
    select
        wave_id,
        count(*)::bigint as answers_count,
    from stage_answers
    group by wave_id
),

again as (
    select
        waves.follows_wave_id as wave_id,
        count(*)::bigint as again_count,
    from waves
    inner join samples using (wave_id)
    where waves.follows_wave_id is not null
    group by waves.follows_wave_id
)

select
    waves.wave_id,
    waves.wave_kind,
    waves.opens_date,
    asked.asked_count,
    coalesce(answered.answers_count, 0)::bigint as answers_count,
    coalesce(again.again_count, 0)::bigint as again_count,
from stage_waves as waves
left join asked using (wave_id)
left join answered using (wave_id)
left join again using (wave_id)
where waves.opens_date < $before_date
order by waves.wave_id
