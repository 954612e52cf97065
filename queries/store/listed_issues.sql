-- listed_issues: every report that was given out, the first first.
-- grain:  number
-- params:
-- reads:  issued_reports
-- feeds:  reporting.draft_report, report.issues
select number, name, manifest_sha256, recorded_at
from issued_reports
order by number
