-- registrations_by_month: households that registered in each month of a span.
-- grain:  registered_month
-- params: from_date, before_date
-- reads:  stage_households
-- feeds:  sizing.groups
select
    date_trunc('month', registered_date)::date as registered_month,
    count(*)::bigint as registered_count,
from stage_households
where registered_date >= $from_date and registered_date < $before_date
group by all
order by registered_month
