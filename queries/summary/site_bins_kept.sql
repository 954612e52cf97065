-- site_bins_kept: whether bins of sites were in use $age_days after they were given:
--   not where they had stopped by then, still so where the site weighed feed on or
--   after that day, else not known.
-- grain:  site_id, model_id, given_date
-- params: as_of, age_days
-- reads:  site_bins, site_weighings
-- feeds:  field.shared_bins
select
    bins.site_id,
    bins.model_id,
    bins.given_date,
    case
        when bins.stopped_date <= bins.given_date + $age_days::integer then false
        when bins.stopped_date > bins.given_date + $age_days::integer then true
        when max(weighings.week_start_date) >= bins.given_date + $age_days::integer
            then true
    end as is_in_use,
from site_bins as bins
left join site_weighings as weighings
    on
        bins.site_id = weighings.site_id
        and weighings.fed_kg > 0
        and weighings.week_start_date <= $as_of
where bins.given_date + $age_days::integer <= $as_of
group by bins.site_id, bins.model_id, bins.given_date, bins.stopped_date
order by bins.site_id, bins.model_id, bins.given_date
