"""Finding a factor, and what is said when it is not there."""

from __future__ import annotations

import pytest

from planner.errors import FactorError
from planner.factors import read_factors
from planner.factors.table import COLUMNS

HEADER = ",".join(COLUMNS)
SOURCES = '[book]\ncitation = "A book"\naddress = "https://example.org"\n'


def _write(folder, *lines: str):
    (folder / "one.csv").write_text("\n".join([HEADER, *lines]) + "\n", encoding="utf-8")
    (folder / "sources.toml").write_text(SOURCES, encoding="utf-8")
    return folder


def test_a_name_with_one_row_needs_no_edition():
    assert read_factors().find("methane_share_of_gas").value == 0.5


def test_editions_are_told_apart():
    table = read_factors()
    values = [
        table.find("food_decomposing_carbon_share", edition=edition).value
        for edition in ("ipcc_2006", "ipcc_2019")
    ]
    assert values == [0.5, 0.7]


def test_an_unknown_factor_is_answered_with_the_nearest():
    with pytest.raises(FactorError, match="Did you mean oxidised_share"):
        read_factors().find("oxidized_share")


def test_an_unknown_edition_is_answered_with_what_there_is():
    with pytest.raises(FactorError, match=r"found no row for ar7.*There are ar4; ar5"):
        read_factors().find("methane_gwp100", edition="ar7")


def test_a_name_with_many_rows_asks_which():
    with pytest.raises(
        FactorError, match=r"found 5 rows .* There are managed_anaerobic, ipcc_2006"
    ):
        read_factors().find("methane_correction_factor", edition="ipcc_2006")


def test_a_row_named_in_full_wins_over_rows_with_more_names(tmp_path):
    rows = (
        "a_kg,1,,,fixed,kg,,,,assumed,yes,book,p. 1,",
        "a_kg,2,,,fixed,kg,,new,,assumed,yes,book,p. 1,",
    )
    table = read_factors(_write(tmp_path, *rows))
    assert table.find("a_kg").value == 1.0
    assert table.find("a_kg", edition="new").value == 2.0


def test_an_unknown_source_is_answered_with_the_nearest():
    with pytest.raises(FactorError, match="Did you mean chan_2011"):
        read_factors().source("chan_2012")


def test_empty_cells_are_no_number_and_no_text(tmp_path):
    folder = _write(tmp_path, "a_kg,1,,,fixed,kg,,,2025-01-01,assumed,yes,book,p. 1,")
    (factor,) = read_factors(folder)
    assert (factor.low, factor.high, factor.note) == (None, None, "")
    assert factor.limits == (1.0, 1.0)
    assert factor.applies_from.year == 2025


def test_a_word_in_place_of_a_number_names_the_file(tmp_path):
    folder = _write(tmp_path, "a_kg,much,,,fixed,kg,,,,assumed,yes,book,p. 1,")
    with pytest.raises(FactorError, match=r"one\.csv: a cell is not of its column's kind"):
        read_factors(folder)


def test_other_columns_are_named(tmp_path):
    _write(tmp_path)
    (tmp_path / "one.csv").write_text("factor,value\n", encoding="utf-8")
    with pytest.raises(FactorError, match=r"one\.csv: found columns factor, value"):
        read_factors(tmp_path)
