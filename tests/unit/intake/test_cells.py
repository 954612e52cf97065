"""Cells as text are read as the country writes them; what cannot be read is null.

Decimal and group signs and the order of short dates are those of the Unicode Common
Locale Data Repository for each country; examples are written by hand from them.
"""

from __future__ import annotations

import datetime as dt

import polars as pl
import pytest

from planner.intake.cells import country, parsed


def read(table, column, text, locale="en_AU", *, has_number_cells=False):
    reading = parsed(table, column, country(locale), has_number_cells=has_number_cells)
    return pl.DataFrame({column: [text]}, schema={column: pl.String}).select(reading).item()


@pytest.mark.parametrize(
    ("locale", "text", "expected"),
    [
        ("en_AU", "2.5", 2.5),
        ("en_AU", "1,234.5", 1234.5),
        ("en_AU", "-3", -3.0),
        ("en_AU", "\u22123", -3.0),
        ("en_AU", ".5", 0.5),
        ("en_AU", "2,5", None),
        ("en_AU", "1,23,4", None),
        ("en_AU", "2-3", None),
        ("en_AU", "2.5 kg", None),
        ("en_AU", "nan", None),
        ("en_AU", "inf", None),
        ("en_AU", "1e999", None),
        ("de_DE", "2,5", 2.5),
        ("de_DE", "1.234,5", 1234.5),
        ("de_DE", "1.234", 1234.0),
        ("de_DE", "2.5", None),
        ("fr_FR", "1\u202f234,5", 1234.5),
        ("fr_FR", "1 234,5", 1234.5),
        ("de_CH", "1’234.5", 1234.5),
        ("es_ES", "1.234,5", 1234.5),
    ],
)
def test_numbers_in_a_text_file(locale, text, expected):
    assert read("costs", "amount", text, locale) == expected


@pytest.mark.parametrize(
    ("locale", "text", "expected"),
    [
        ("de_DE", "2.5", 2.5),
        ("de_DE", "1.234", 1.234),
        ("de_DE", "2,5", 2.5),
        ("de_DE", "1.234,5", 1234.5),
        ("en_US", "0.0000001", 1e-7),
    ],
)
def test_numbers_of_a_spreadsheet_come_with_a_point(locale, text, expected):
    assert read("costs", "amount", text, locale, has_number_cells=True) == expected


@pytest.mark.parametrize(
    ("text", "expected"), [("3", 3), ("3.0", 3), ("1,200", 1200), ("2.5", None), ("dos", None)]
)
def test_whole_numbers(text, expected):
    assert read("areas", "houses_count", text) == expected


@pytest.mark.parametrize(
    ("locale", "text", "expected"),
    [
        ("en_AU", "4/3/2025", dt.date(2025, 3, 4)),
        ("en_AU", "04/03/25", dt.date(2025, 3, 4)),
        ("en_AU", "4-3-2025", dt.date(2025, 3, 4)),
        ("en_AU", "2025-03-04", dt.date(2025, 3, 4)),
        ("en_AU", "2025-03-04 00:00:00", dt.date(2025, 3, 4)),
        ("en_AU", "2025-03-04T10:30:00Z", dt.date(2025, 3, 4)),
        ("en_AU", "3/25/2025", None),
        ("en_AU", "31/2/2025", None),
        ("en_AU", "late May", None),
        ("en_AU", "45720", None),
        ("en_US", "3/4/2025", dt.date(2025, 3, 4)),
        ("en_US", "25/3/2025", None),
        ("de_DE", "04.03.2025", dt.date(2025, 3, 4)),
        ("nl_NL", "04-03-2025", dt.date(2025, 3, 4)),
        ("sv_SE", "2025-03-04", dt.date(2025, 3, 4)),
        ("sv_SE", "04/03/2025", None),
        ("en_CA", "04/03/2025", None),
        ("hu_HU", "2025. 03. 04.", dt.date(2025, 3, 4)),
    ],
)
def test_dates(locale, text, expected):
    assert read("costs", "cost_date", text, locale) == expected


@pytest.mark.parametrize(
    ("locale", "text", "expected"),
    [
        ("en_AU", "Yes", True),
        ("en_AU", "x", True),
        ("en_AU", "1", True),
        ("en_AU", "TRUE", True),
        ("en_AU", "no", False),
        ("en_AU", "0", False),
        ("en_AU", "maybe", None),
        ("en_AU", "Yes!", True),
        ("en_AU", "No.", False),
        ("en_AU", "yes?", None),
        ("en_AU", "ja", True),
        ("en_AU", "j", None),
        ("en_GB", "oui", True),
        ("en_GB", "nein", False),
        ("de_DE", "Ja", True),
        ("de_DE", "nein", False),
        ("fr_FR", "oui", True),
        ("fr_FR", "non", False),
        ("es_ES", "Sí", True),
        ("es_ES", "no", False),
    ],
)
def test_yes_and_no(locale, text, expected):
    assert read("households", "may_contact", text, locale) is expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("food_and_garden_organics", "food_and_garden_organics"),
        ("Food and garden organics", "food_and_garden_organics"),
        ("GARDEN-ORGANICS", "garden_organics"),
        ("Garden organics.", "garden_organics"),
        ("green bin", None),
    ],
)
def test_codes(text, expected):
    assert read("areas", "kerbside_service", text) == expected


def test_a_number_or_code_that_a_spreadsheet_made_a_number_loses_its_fraction():
    assert read("households", "household_id", "12.0") == "12"
    assert read("households", "area_id", "7.0") == "7"
    assert read("households", "household_id", "0012") == "0012"


def test_a_text_stays_as_it_is_typed():
    assert read("contacts", "postcode", "0800") == "0800"
    assert read("handovers", "serial", "4.0") == "4.0"


@pytest.mark.parametrize("line", ["sep=;", '"sep=;"', "SEP=;"])
def test_a_first_line_that_names_the_separator_is_no_row(read, line):
    # spreadsheet programs write and obey such a line (common practice, no source)
    rows = "cost_id;cost_date;category;amount\nC1;2025-07-01;bins, with lids, and trays;5\n"
    (file,) = read({"costs.csv": f"{line}\r\n{rows}"})
    (sheet,) = file.sheets
    assert sheet.headings.row_number == 2
    assert sheet.text.row(0) == (3, "C1", "2025-07-01", "bins, with lids, and trays", "5")


def test_a_time_is_read_as_the_french_write_it():
    # Office québécois de la langue française: hours, h, minutes with spaces (from memory)
    written = pl.DataFrame({"slot": ["9 h 30", "10h", "14\u00a0h\u00a005", "10:30", "matin"]})
    column = parsed("bookings", "slot", country("fr_CA"), has_number_cells=False)
    read = written.select(column).to_series().to_list()
    assert read == ["09:30", "10:00", "14:05", "10:30", "matin"]
