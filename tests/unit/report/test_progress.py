"""A year that runs: the half-page first, chances, turnout, stock, money, what is due."""

from __future__ import annotations

import dataclasses
import datetime as dt

import docx
import numpy as np
import polars as pl

from planner.report.document import Table
from planner.report.progress import Field, progress_document, write_progress
from tests.unit.report import fuller

DAY = dt.date(2026, 3, 7)
THROUGH, END = "2026-03-31", dt.date(2026, 7, 1)


def contents():
    made = dataclasses.replace(fuller.register(), through_date=THROUGH)
    fuller.add(made, "forecast_kept_out_of_landfill_t", 10.4, 8.6, 12.5)
    fuller.add(made, "on_track_share[kept_out_of_landfill_t]", 0.0004, unit="share")
    return fuller.contents(made=made)


def field(came=45, absent=5):
    turnout = {"event_id": ["E1"], "event_date": [DAY], "came_count": [came]}
    coming = {"event_date": [END - dt.timedelta(20)], "places_count": [80], "booked_count": [31]}
    stock = {
        "item_kind": ["bins"],
        "stock_item": ["two_tray"],
        "in_stock_quantity": [60.0],
        "outstanding_quantity": [120.0],
    }
    return Field(
        pl.DataFrame({**turnout, "absent_count": [absent]}),
        pl.DataFrame(coming),
        pl.DataFrame(stock),
    )


def words_of(document, key):
    found = []
    for block in document.section(key).blocks:
        if isinstance(block, Table):
            found += [cell.words for row in block.rows for cell in row]
        else:
            found.append(block.words)
    return " ".join(found)


def test_the_half_page_says_pace_chance_no_shows_and_spending():
    words = words_of(progress_document(contents(), field(), (), END), "committee")
    assert "we expect 10 tonnes" in words
    assert "chance of reaching the target of 8 tonnes is less than 1%" in words
    assert "10% of those who booked a place did not come" in words
    assert "of a budget of" in words


def test_days_stock_and_what_is_due_have_their_rows():
    document = progress_document(contents(), field(), (), END)
    assert "45 5" in words_of(document, "days")
    assert "bins: Two-tray bin 60 120" in words_of(document, "stock")
    due = words_of(document, "due")
    assert "11 Jun 2026 80 31" in due
    assert "The year ends on 30 Jun 2026" in due


def test_every_file_is_there_after_writing_and_after_writing_again(tmp_path):
    draws = np.random.default_rng(7).normal(10.4, 1.0, 101)
    for _ in range(2):
        files = write_progress(tmp_path, contents(), field(), draws)
        assert [path.name for path in files] == ["progress.html", "progress.docx", "committee.docx"]
        assert all(path.stat().st_size > 0 for path in files)
    half_page = docx.Document(files[2])
    headings = [p.text for p in half_page.paragraphs if p.style.name == "Heading 1"]
    assert headings == ["In short"]


def test_few_who_booked_are_told_of_nowhere():
    document = progress_document(contents(), field(came=3, absent=2), (), END)
    assert "did not come" not in words_of(document, "committee")
    assert "days" not in [section.key for section in document.sections]
