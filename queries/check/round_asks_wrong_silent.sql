-- round_asks_wrong_silent: rounds that ask again of one that cannot be asked again.
-- grain:  record_key
-- params:
-- reads:  waves
-- feeds:  checks.run_checks
select
    'wrong' as severity,
    'waves' as table_name,
    again.wave_id as record_key,
    first.wave_id as first_id,
    first.follows_wave_id as first_follows,
    again.wave_kind,
    first.wave_kind as first_kind,
    again.opens_date,
    first.opens_date as first_opens,
    case
        when again.follows_wave_id = again.wave_id then 'itself'
        when first.follows_wave_id is not null then 'chain'
        when first.wave_kind <> again.wave_kind then 'kind'
        else 'order'
    end as found_as,
from waves as again
inner join waves as first on first.wave_id = again.follows_wave_id
where
    first.follows_wave_id is not null
    or first.wave_kind <> again.wave_kind
    or first.opens_date >= again.opens_date
order by again.wave_id
