-- record_issue: note a report that was given out, with the digest of its manifest.
-- grain:  number
-- params: number, name, manifest_sha256, recorded_at
-- reads:
-- feeds:  store.issued.record_issue
insert or ignore into issued_reports by name
select
    $number as number,
    $name as name,
    $manifest_sha256 as manifest_sha256,
    $recorded_at as recorded_at,
