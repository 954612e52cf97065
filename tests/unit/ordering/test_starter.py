"""One mass of worms for a bin: orders, sizes and reports take the same."""

from __future__ import annotations

import polars as pl
import pytest

from planner.errors import ProgramError
from planner.factors import read_factors
from planner.factors.own import with_own
from planner.ordering.inputs import starter_kg
from planner.paths import PROGRAM_FILE, TEMPLATES
from planner.program import read_program

PEOPLE = pl.DataFrame({"households_count": [10], "people_count": [24]})
SETTING = "# worms_kg_per_bin = 0.45"


def program_with(tmp_path, line):
    text = (TEMPLATES / PROGRAM_FILE).read_text(encoding="utf-8")
    assert SETTING in text
    path = tmp_path / PROGRAM_FILE
    path.write_text(text.replace(SETTING, line), encoding="utf-8")
    return read_program(path)


def test_without_a_setting_an_order_takes_the_published_starter_of_sizes(tmp_path):
    program, factors = program_with(tmp_path, ""), read_factors()
    # half a pound, as the published kit holds
    assert starter_kg(program, factors, PEOPLE) == factors.find("starter_kg").value == 0.25


def test_the_setting_is_the_factor_that_sizes_and_reports_take(tmp_path):
    program = program_with(tmp_path, "worms_kg_per_bin = 0.4")
    factors = with_own(read_factors(), program.factors, "Marrow Heads")
    assert factors.find("starter_kg").value == 0.4
    assert starter_kg(program, factors, PEOPLE) == 0.4
    (source,) = [one.source for one in program.factors]
    assert source == "worms_kg_per_bin of [ordering]"


def test_two_settings_of_the_starter_are_refused(tmp_path):
    block = """worms_kg_per_bin = 0.4
    [[factors]]
    factor_id = "starter_kg"
    value = 0.3
    unit = "kg worms per bin"
    source = "contract"
    [ordering.more]
    """
    with pytest.raises(ProgramError, match="expected one of them"):
        program_with(tmp_path, block)
