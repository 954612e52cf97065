-- audit_incomplete: arms and periods without an audit, where there are audits.
-- grain:  record_key
-- params:
-- reads:  audits
-- feeds:  checks.run_checks
select
    'doubtful' as severity,
    'audits' as table_name,
    wanted.arm || ' | ' || wanted.period as record_key,
    wanted.arm || '_' || wanted.period as found_as,
from (
    values
        ('given', 'before'),
        ('given', 'after'),
        ('comparison', 'before'),
        ('comparison', 'after')
) as wanted (arm, period)
anti join audits using (arm, period)
where exists (select 1 from audits)
order by record_key
