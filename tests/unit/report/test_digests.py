"""What an issue notes of the records, so that a later planner can tell whether they changed."""

from __future__ import annotations

from types import SimpleNamespace

import polars as pl

from planner.report.issues import records_digests


def digests(**columns):
    return records_digests(SimpleNamespace(records=lambda _: pl.DataFrame(columns)))["handovers"]


def test_a_column_that_a_newer_planner_adds_changes_no_record():
    before = digests(handover_id=["B1", "B2"], serial=["S1", None])
    empty = pl.Series([None, None], dtype=pl.Int64)
    assert digests(handover_id=["B1", "B2"], serial=["S1", None], bins_count=empty) == before
    assert digests(handover_id=["B1", "B2"], serial=["S1", None], bins_count=[1, None]) != before
    assert digests(handover_id=["B1", "B2"], serial=[None, "S1"]) != before
    assert digests(handover_id=["B1", "B2"], other=["S1", None]) != before
