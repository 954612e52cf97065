-- site_weeks: what each site had in use and weighed between two days. A weighed week
--   counts where it begins; its bins are those in use on that day.
-- grain:  site_id
-- params: from_date, before_date
-- reads:  sites, site_bins, site_weighings
-- feeds:  field.shared_bins, report.year
with used as (
    select
        site_id,
        sum(bins_count) filter (where given_date < $before_date)::bigint as bins_count,
        sum(bins_count) filter (
            where given_date < $before_date
            and coalesce(stopped_date >= $before_date, true)
        )::bigint as bins_in_use_count,
        sum(
            bins_count * greatest(
                date_diff(
                    'day',
                    greatest(given_date, $from_date),
                    least(coalesce(stopped_date, $before_date), $before_date)
                ),
                0
            )
        )::double / 7.0 as bin_weeks,
    from site_bins
    group by site_id
),

weighed as (
    select
        weighings.site_id,
        weighings.week_start_date,
        any_value(weighings.fed_kg) as fed_kg,
        sum(bins.bins_count) as bins_count,
    from site_weighings as weighings
    inner join site_bins as bins
        on
            weighings.site_id = bins.site_id
            and bins.given_date <= weighings.week_start_date
            and coalesce(bins.stopped_date > weighings.week_start_date, true)
    where
        weighings.week_start_date >= $from_date
        and weighings.week_start_date < $before_date
    group by weighings.site_id, weighings.week_start_date
),

weighed_by_site as (
    select
        site_id,
        count(*)::bigint as weighed_weeks_count,
        sum(bins_count)::double as weighed_bin_weeks,
        sum(fed_kg)::double as weighed_kg,
    from weighed
    group by site_id
)

select
    sites.site_id,
    sites.area_id,
    sites.site_kind,
    sites.people_count,
    coalesce(used.bins_count, 0) as bins_count,
    coalesce(used.bins_in_use_count, 0) as bins_in_use_count,
    coalesce(used.bin_weeks, 0.0) as bin_weeks,
    coalesce(weighed_by_site.weighed_weeks_count, 0) as weighed_weeks_count,
    coalesce(weighed_by_site.weighed_bin_weeks, 0.0) as weighed_bin_weeks,
    coalesce(weighed_by_site.weighed_kg, 0.0) as weighed_kg,
from sites
left join used using (site_id)
left join weighed_by_site using (site_id)
order by sites.site_id
