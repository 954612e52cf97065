"""The workbook holds the register's numbers, hides what is hidden and runs nothing."""

from __future__ import annotations

import datetime as dt
import zipfile
from dataclasses import replace

import openpyxl
import pytest
from openpyxl.cell.cell import MergedCell

from planner.factors import read_factors
from planner.figures import Figure
from planner.report.charts import write_charts
from planner.report.document.building import build_document
from planner.report.document.contents import Contents
from planner.report.wording import decimals
from planner.report.workbook.writing import HEADLINES, write_workbook
from tests.unit.report import synthetic

EXACT = 1e-12
HIDDEN_NAMES = ("Tiny Hamlet", "Little Green")
HIDDEN_IDS = ("[a006]", "[a007]")
RUN = ("=", "+", "-", "@", "\t", "\r")


def write(path, register=None, program=None, quality=None, *, has_charts=False):
    of = register or synthetic.register(), program or synthetic.program()
    told = synthetic.area_names(), quality or synthetic.quality()
    contents = Contents(of[0], of[1], read_factors(), *told)
    charts = write_charts(path.parent, *of, told[0]) if has_charts else ()
    contents = replace(contents, charts=charts)
    write_workbook(path, contents, build_document(contents))
    return path


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    return write(tmp_path_factory.mktemp("workbook") / "report.xlsx", has_charts=True)


@pytest.fixture(scope="module")
def workbook(path):
    return openpyxl.load_workbook(path)


@pytest.fixture(scope="module")
def register():
    return synthetic.register()


def rows_named(sheet, name):
    return [row for row in sheet.iter_rows(values_only=True) if row[0] == name]


def cells(workbook):
    for sheet in workbook:
        for row in sheet.iter_rows():
            yield from (c for c in row if not isinstance(c, MergedCell) and c.value is not None)


def is_number(content):
    return isinstance(content, int | float) and not isinstance(content, bool)


def same(found, figure):
    """Whether cells hold a figure to its last digit, money to the cent."""
    expected = [figure.value, figure.low, figure.high]
    if figure.unit.startswith("GBP"):
        expected = [None if number is None else round(number, 2) for number in expected]
    return list(found) == [
        None if number is None else pytest.approx(number, rel=EXACT, abs=0) for number in expected
    ]


@pytest.mark.parametrize("figure_id", HEADLINES)
def test_the_first_page_holds_each_headline_as_papers_print_it(workbook, register, figure_id):
    figure = register[figure_id]
    row = next(iter(rows_named(workbook["The year"], figure.label)))
    if figure.value is None:
        assert row[1:4] == ("not given", None, None)
    elif decimals(figure) < 0:
        # no format rounds to tens; the sheet of figures holds them to the last digit
        shown = [figure.value, figure.low, figure.high]
        assert list(row[1:4]) == [round(one, decimals(figure)) for one in shown]
    else:
        assert same(row[1:4], figure)


def test_money_stands_in_cents(workbook):
    """No council books fractions of a cent; 78826.45000000001 is no sum of money."""
    amounts = [c.value for c in cells(workbook) if "£" in c.number_format and is_number(c.value)]
    assert len(amounts) > 20
    assert all(amount == round(amount, 2) for amount in amounts)


def test_every_figure_stands_on_the_sheet_of_figures(workbook, register):
    rows = {row[0]: row for row in workbook["Figures"].iter_rows(values_only=True)}
    for figure in register:
        assert figure.id in rows
        if figure.value is not None:
            assert same(rows[figure.id][2:5], figure)


def test_emissions_below_zero_are_put_in_words(workbook, register):
    figure = register["emissions_avoided_in_year_t_co2e"]
    assert figure.value < 0.0
    (row,) = rows_named(workbook["The year"], figure.label)
    assert row[5].startswith("Below zero")


def test_months_stand_under_their_dates(workbook, register):
    rows = {
        row[0].strftime("%Y-%m"): row
        for row in workbook["Months"].iter_rows(values_only=True)
        if isinstance(row[0], dt.datetime)
    }
    assert len(rows) == 24
    for month, row in rows.items():
        assert row[1] == register[f"bins_given_in_month[{month}]"].value
        assert same(row[8:11], register[f"kept_out_of_landfill_t_in_month[{month}]"])


def test_the_last_row_of_months_is_the_program_to_date(workbook, register):
    (row,) = rows_named(workbook["Months"], "To date")
    assert row[1] == register["bins_given_to_date"].value
    assert same(row[8:11], register["kept_out_of_landfill_to_date_t"])


def test_areas_hold_their_own_figures_and_the_whole(workbook, register):
    (row,) = rows_named(workbook["Areas"], "Harbour")
    assert same(row[11:14], register["kept_out_of_landfill_t[a000]"])
    (row,) = rows_named(workbook["Areas"], "Whole program")
    assert same(row[11:14], register["kept_out_of_landfill_t"])


def test_amounts_known_to_hundreds_are_rounded_on_the_sheets_of_sections(tmp_path):
    made = synthetic.register()
    for name, unit in (("castings_t", "t"), ("castings_litres", "litres")):
        made.add(Figure(name, name, 71_159.3, 53_204.0, 91_377.0, unit, "Made up."))
    book = openpyxl.load_workbook(write(tmp_path / "report.xlsx", made))
    # half width 19,087 keeps its first two digits by the rule of the Particle Data Group
    assert [rows_named(book["Gross to net"], "castings_litres")[0][1]] == [71_000.0]
    full = [row for row in book["Figures"].iter_rows(values_only=True) if "castings_litres" in row]
    assert 71_159.3 in full[0]


def test_emissions_stand_on_three_bases_beside_each_other(workbook, register):
    (row,) = rows_named(workbook["Emissions"], "Emissions avoided")
    found = [
        register[f"emissions_avoided_{b}_t_co2e"].value for b in ("in_year", "to_date", "100_years")
    ]
    assert row[1:4] == pytest.approx(found, rel=EXACT)


def test_intervals_below_zero_are_words_that_no_program_runs(workbook):
    words = [
        cell.value
        for row in workbook["Emissions"].iter_rows()
        for cell in row
        if isinstance(cell.value, str) and " to " in cell.value and cell.value[:1] in "'−"
    ]
    assert words
    assert all(text.startswith("−") for text in words)


def test_the_ledger_adds_up_to_its_last_row(workbook, register):
    *_, total = rows_named(workbook["Money"], "Program cost in the year")
    lines = [
        rows_named(workbook["Money"], name)[0][1]
        for name in ("bins", "staff", "co-payments received")
    ]
    assert sum(lines) == pytest.approx(total[1], abs=1e-9)
    assert total[1] == round(register["program_cost"].value, 2)


def test_no_row_of_a_hidden_area_holds_a_number(workbook):
    found = 0
    for sheet in workbook:
        for row in sheet.iter_rows(values_only=True):
            texts = [content for content in row if isinstance(content, str)]
            if any(name in text for text in texts for name in (*HIDDEN_NAMES, *HIDDEN_IDS)):
                found += 1
                assert not any(is_number(content) for content in row)
                assert "not shown" in texts
    assert found == 16  # two areas: a row of areas and seven figures each


def test_small_counts_of_households_are_not_printed(workbook):
    # the synthetic audit has 9 households, the last round 7 answers, the threshold is 10
    rows = list(workbook["Data quality"].iter_rows(values_only=True))
    (audit,) = [row for row in rows if row[0] == "given"]
    assert audit[3:6] == ("fewer than 10", "not shown", "not shown")
    (wave,) = [row for row in rows if row[0] == "little"]
    assert wave[4] == "fewer than 10"
    # 512 rows read, 500 new, 3 corrected, 4 refused: each small one, and 500 from which the
    # two together would follow, stay out; the sheet's total stands
    (load,) = [row for row in rows if row[0] == "households.xlsx"]
    assert load[4] == 512
    assert all(isinstance(content, str) for content in load[6:8])


def test_checks_that_failed_stand_on_the_page_without_small_counts_of_households(workbook):
    rows = list(workbook["Data quality"].iter_rows(values_only=True))
    start = [row[0] for row in rows].index("what does not fit")
    assert rows[start + 1][:5] == (
        "bins that came back too early",
        "wrong",
        "givebacks",
        "Correct the date.",
        "fewer than 10",
    )
    assert [row[4] for row in rows[start + 2 : start + 4]] == [23, 2]


def test_no_text_is_run(workbook, path):
    for cell in cells(workbook):
        assert cell.data_type != "f"
        assert not (isinstance(cell.value, str) and cell.value.startswith(RUN))
    with zipfile.ZipFile(path) as archive:
        names = archive.namelist()
        sheets = [archive.read(n) for n in names if n.startswith("xl/worksheets/sheet")]
    assert not any(b"<f>" in sheet or b"<f " in sheet for sheet in sheets)
    assert not any("vba" in name.lower() for name in names)


@pytest.mark.thorough
def test_a_second_writing_gives_the_same_bytes(path, tmp_path):
    assert write(tmp_path / "again.xlsx", has_charts=True).read_bytes() == path.read_bytes()


def test_the_newest_load_dates_the_file(path, workbook):
    newest = dt.datetime(2026, 7, 2, 11, 0)
    assert workbook.properties.created == newest
    assert workbook.properties.modified == newest
    with zipfile.ZipFile(path) as archive:
        assert {entry.date_time for entry in archive.infolist()} == {(2026, 7, 2, 11, 0, 0)}


def test_the_properties_name_report_and_council(workbook):
    assert "2025-26" in workbook.properties.title
    assert workbook.properties.creator == "Brackwell Council (invented)"


def test_the_picture_is_described(path):
    with zipfile.ZipFile(path) as archive:
        drawing = archive.read("xl/drawings/drawing1.xml").decode()
    assert "Chart of tonnes of food scraps kept out of landfill in each month" in drawing


def test_the_year_prints_on_one_portrait_page_of_a4(workbook):
    setup = workbook["The year"].page_setup
    assert int(setup.paperSize) == 9  # A4 in the file format
    assert (setup.orientation, setup.fitToHeight, setup.fitToWidth) == ("portrait", 1, 1)


def test_every_sheet_has_a_print_area_and_long_ones_frozen_headings(workbook):
    assert all(sheet.print_area for sheet in workbook)
    for name in ("Areas", "Months", "Factors"):
        assert workbook[name].freeze_panes
        assert workbook[name].print_title_rows
    # hundreds of rows to look things up in stay on the screen
    figures = workbook["Figures"]
    assert figures.freeze_panes
    assert figures.print_area.endswith("$3")
    assert figures.max_row > 100


def test_results_against_targets_follow_the_rule(workbook):
    # 472 of 450 bins; 6.1 to 9.7 t around a target of 8 t; 58,205 of a budget of 60,000
    judged = [row[5] for row in workbook["The year"].iter_rows(values_only=True) if row[5]]
    assert "above target" in judged
    assert "on target" in judged
    assert "within budget" in judged


def test_a_year_without_targets_says_so(tmp_path):
    program = synthetic.program(
        budget=None, bins_given_target=None, kept_out_of_landfill_t_target=None
    )
    book = openpyxl.load_workbook(write(tmp_path / "free.xlsx", program=program))
    texts = [cell.value for cell in cells(book) if isinstance(cell.value, str)]
    assert any(text.startswith("No targets and no budget") for text in texts)


@pytest.mark.parametrize(
    ("country_locale", "currency", "code"),
    [
        ("en_GB", "GBP", '"£"#,##0'),
        ("es_ES", "EUR", '#,##0\u00a0"€"'),
        ("de_DE", "EUR", '#,##0\u00a0"€"'),
        ("en_AU", "AUD", '"$"#,##0'),
    ],
)
def test_money_has_the_sign_and_place_of_its_country(tmp_path, country_locale, currency, code):
    book = openpyxl.load_workbook(
        write(
            tmp_path / "money.xlsx",
            synthetic.register(currency, 12, 4),
            synthetic.program(country_locale, currency),
        )
    )
    for row in book["The year"].iter_rows():
        if row[0].value == "Program cost in the year":
            assert row[1].number_format == code
            return
    pytest.fail("no row of program cost")


def test_factors_are_cited(workbook):
    factor = read_factors().factors[0]
    name = "/".join(part for part in factor.key if part)
    (row,) = rows_named(workbook["Factors"], name)
    assert row[1] == factor.value
    assert read_factors().source(factor.source_id).citation in row[6]


def test_an_empty_store_still_gives_a_workbook(tmp_path):
    full = synthetic.quality()
    bare = type(full)(
        full.loads.clear(),
        full.refusals.clear(),
        full.waves.clear(),
        full.audits.clear(),
        full.checks.clear(),
    )
    book = openpyxl.load_workbook(write(tmp_path / "bare.xlsx", quality=bare))
    texts = [row[0] for row in book["Data quality"].iter_rows(values_only=True)]
    assert "No row is refused." in texts
