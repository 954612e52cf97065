"""One sentence for the press: number, range, source, caution; nothing that was not issued."""

from __future__ import annotations

import shutil

import pytest

from planner.errors import ReportError
from planner.paths import PROGRAM_FILE, TEMPLATES
from planner.report.document.saying import Saying
from planner.report.issues import Issue
from planner.report.press import press_quote, sentence
from planner.report.wording import Wording
from tests.unit.report import fuller

BRITISH = Wording("en_GB", "GBP")
ISSUE = Issue(3, "2026-07-04", "2025-26", "", "1", 1000, 1, "", "", {}, {})


def said(figure_id):
    saying = Saying(fuller.register(), BRITISH)
    return sentence(saying, saying.register[figure_id], ISSUE)


def test_an_estimate_comes_with_range_source_and_caution():
    words = said("kept_out_of_landfill_t")
    assert "7.7 tonnes (likely range 6.1 to 9.7); an estimate" in words
    assert words.endswith("(report 3 of 4 Jul 2026).")
    assert words.count(". ") == 0


def test_a_count_is_said_to_be_counted_and_emissions_to_be_no_offset():
    assert "counted from the council's records" in said("bins_given")
    assert "likely range" not in said("bins_given")
    assert "not an offset or a credit" in said("emissions_avoided_100_years_t_co2e")


def test_nothing_is_quoted_that_was_not_issued(tmp_path):
    shutil.copy(TEMPLATES / PROGRAM_FILE, tmp_path)
    with pytest.raises(ReportError, match="Run `planner issue` before you quote"):
        press_quote(tmp_path, "fed_t", "2025/26")
