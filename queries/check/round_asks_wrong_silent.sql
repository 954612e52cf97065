-- round_asks_wrong_silent: rounds that ask again of one that cannot be asked again.
-- grain:  record_key
-- params:
-- reads:  waves
-- feeds:  checks.run_checks
select
    'wrong' as severity,
    'waves' as table_name,
    again.wave_id as record_key,
    case
        when again.follows_wave_id = again.wave_id then 'asks its own silent again'
        when first.follows_wave_id is not null
            then 'asks the silent of ' || first.wave_id || ' again, which does the '
                || 'same of ' || first.follows_wave_id
        when first.wave_kind <> again.wave_kind
            then 'is a ' || again.wave_kind || ', asks the silent of '
                || first.wave_id || ' again, a ' || first.wave_kind
        else 'opened ' || again.opens_date || ', asks the silent of ' || first.wave_id
            || ' again, which opened ' || first.opens_date
    end as found,
    'Write in follows_wave_id a round of its own, of the same kind and opened before, '
    || 'or leave it empty.' as advice,
from waves as again
inner join waves as first on first.wave_id = again.follows_wave_id
where
    first.follows_wave_id is not null
    or first.wave_kind <> again.wave_kind
    or first.opens_date >= again.opens_date
order by again.wave_id
