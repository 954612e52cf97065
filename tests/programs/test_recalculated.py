"""The live sheets of the workbook, calculated by LibreOffice from nothing but their formulas.

Values kept beside the formulas are taken out first, so that none can be read back. Each town's
workbook is in a language of its own.
"""

from __future__ import annotations

import re
import shutil
import zipfile

import openpyxl
import pytest

from planner import reporting
from planner.messages import in_each_language, messages_for
from planner.paths import PROGRAM_FILE, REPORT_FOLDER, WORKBOOK_FILE
from tests.outside import needs_office, office
from tests.programs.conftest import TOWNS

pytestmark = pytest.mark.thorough

LIVE = ("cohorts", "months", "landfill", "account", "money")
"""Live sheets, by the last part of their keys."""

LANGUAGES = {"port_marrow": "en", "thornquay": "fr", "valdorra": "es"}
DIFFERENCE = "0.0E+00"
DIFFERENCES = in_each_language("book.difference")
EXACT = 1e-9
LEAST = 1e-9
"""Below this, formulas and figures differ by rounding alone."""


def in_words(town, key):
    """Words of a key in the language of a town's report."""
    return messages_for("en_GB", LANGUAGES[town]).text(key)


def live(town):
    return {in_words(town, f"sheet.model.{name}") for name in LIVE}


def reported(folder):
    """Report the newest year of a copy of a program."""
    result = reporting.report(folder)
    return folder / REPORT_FOLDER / WORKBOOK_FILE, result.register


@pytest.fixture(scope="module")
def reports(sample, tmp_path_factory):
    """Give the workbook and figures of a town's newest year, reported once."""
    known = {}

    def of(town):
        if town not in known:
            folder = tmp_path_factory.mktemp(town) / "program"
            shutil.copytree(sample(town).folder, folder)
            toml = folder / PROGRAM_FILE
            language = f'[council]\nreport_language = "{LANGUAGES[town]}"'
            toml.write_text(toml.read_text("utf-8").replace("[council]", language, 1), "utf-8")
            known[town] = folder, *reported(folder)
        return known[town]

    return of


def recalculated(path, folder):
    """Drop every kept value, and let LibreOffice calculate."""
    workbook = openpyxl.load_workbook(path)
    bare = folder / "bare" / path.name
    bare.parent.mkdir(exist_ok=True)
    # openpyxl writes formulas without values
    workbook.save(bare)
    return openpyxl.load_workbook(office(bare, folder, "xlsx"), data_only=True)


def formulas(path):
    """Every formula but those of differences, with its place and the value kept beside it."""
    text, kept = openpyxl.load_workbook(path), openpyxl.load_workbook(path, data_only=True)
    for sheet in text:
        for row in sheet.iter_rows():
            for cell in row:
                if cell.data_type == "f" and cell.number_format != DIFFERENCE:
                    yield sheet.title, cell.coordinate, kept[sheet.title][cell.coordinate].value


def same(found, expected):
    return isinstance(found, int | float) and abs(found - expected) <= max(
        LEAST, EXACT * max(abs(found), abs(expected))
    )


@pytest.fixture(scope="module")
def unchanged(reports, tmp_path_factory):
    """Give a town's workbook as LibreOffice reckons it, once."""
    known = {}

    def of(town):
        if town not in known:
            known[town] = recalculated(reports(town)[1], tmp_path_factory.mktemp("reckoned"))
        return known[town]

    return of


@needs_office
@pytest.mark.parametrize("town", TOWNS)
def test_every_formula_comes_to_the_engine_s_value(reports, unchanged, town):
    path, found = reports(town)[1], unchanged(town)
    checked = list(formulas(path))
    wrong = [
        (sheet, cell, found[sheet][cell].value, value)
        for sheet, cell, value in checked
        if not same(found[sheet][cell].value, value)
    ]
    assert wrong == []
    assert {sheet for sheet, _, _ in checked} == live(town)
    errors = [
        cell.coordinate
        for sheet in found
        for row in sheet.iter_rows()
        for cell in row
        if cell.data_type == "e"
    ]
    assert errors == []


@needs_office
@pytest.mark.parametrize("town", TOWNS)
def test_nothing_differs_from_what_is_reported(unchanged, town):
    found = unchanged(town)
    for name in live(town):
        for places, cells in with_differences(found[name]):
            for place in places:
                value = cells[place].value
                if isinstance(value, int | float):
                    beside = cells[place - 1].value
                    assert abs(value) <= max(LEAST, EXACT * abs(beside or 0.0)), cells[0].value


def with_differences(sheet):
    """Rows under a heading of differences, with the places of those, table by table."""
    places = []
    for row in sheet.iter_rows():
        filled = [cell.value for cell in row if cell.value is not None]
        if len(filled) > 1 and all(isinstance(value, str) for value in filled):
            places = [n for n, cell in enumerate(row) if str(cell.value).startswith(DIFFERENCES)]
        elif places:
            yield places, row


@pytest.mark.parametrize("town", TOWNS)
def test_the_workbook_reaches_out_to_nothing(reports, town):
    _, path, _ = reports(town)
    with zipfile.ZipFile(path) as archive:
        names = archive.namelist()
        assert not [name for name in names if "externalLink" in name or "vbaProject" in name]
        for name in names:
            if name.startswith("xl/worksheets/sheet"):
                written = archive.read(name).decode()
                assert not re.findall(r"<f>[^<]*(?:\[|https?:|WEBSERVICE|DDE)[^<]*</f>", written)


def test_a_ratio_has_no_sign_of_money(reports):
    _, path, register = reports("port_marrow")
    sheet = in_words("port_marrow", "sheet.model.money")
    words = in_words("port_marrow", "model.money.benefit_cost_ratio")
    rows = openpyxl.load_workbook(path)[sheet].iter_rows()
    ratios = [row[1:3] for row in rows if row[0].value == words]
    assert len(ratios) == len(register.parts("benefit_cost_ratio")) > 0
    assert {cell.number_format for row in ratios for cell in row} == {"0.000"}
