"""Each figure is declared once, and whatever prints figures prints it where it says."""

from __future__ import annotations

import re
from importlib.resources import files
from types import SimpleNamespace

import numpy as np
import pytest
from openpyxl import load_workbook

from planner.factors import read_factors
from planner.figures import Figure, FigureRegister
from planner.messages import in_english, keys, languages, messages_for, write_papers_in
from planner.paths import QUERIES
from planner.program import Program
from planner.report.charts import drawings_of
from planner.report.disclosure.parts import HIDDEN, is_hidden
from planner.report.document import Table
from planner.report.document.building import SECTION_KEYS, build_document
from planner.report.explaining import explain
from planner.report.figures import CATALOGUE, LISTS, RULES, FigureDeclaration, tonnes
from planner.report.figures.emissions import LINES, NET
from planner.report.figures.writer import FRAMES, Writer
from planner.report.inputs import summed_up
from planner.report.page import write_page
from planner.report.word.writing import write_word
from planner.report.wording import Wording
from planner.report.workbook.writing import write_workbook
from tests.unit.report import fuller, synthetic

PARTS = {
    "age": "12",
    "area_id": "a000",
    "category": "staff",
    "label": fuller.EARLIER,
    "measured": "bins_given",
    "month": "2025-07",
    "of": "kept_out_of_landfill_t",
    "rate": "0.035",
    "source": "survey",
    "wave_id": "follow",
    "year": "3",
}
"""One part of each kind of which tables print several."""

OWN_SHEETS = {"year": "Year", "areas": "Areas", "months": "Months"}


def part_of(declared, basis="100_years"):
    """Name one part of a figure that comes in parts."""
    return filled(declared.id, basis)


def is_printed(declared):
    """Whether a table prints a figure, or a row of one follows from it."""
    return declared.shown or "_restated[" in declared.id


def filled(name, basis="100_years"):
    parts = {**PARTS, "basis": basis}
    return re.sub(r"\{(\w+)\}", lambda word: parts.get(word[1], "one"), name)


@pytest.fixture(scope="module")
def made():
    """Everything a report can say, each figure with a value that no other has."""
    found = fuller.register()
    known = {figure.id: figure for figure in found}
    ids = [
        (one, basis) for basis in synthetic.BASES for one in CATALOGUE.values() if is_printed(one)
    ]
    for place, (declared, basis) in enumerate(ids):
        name = part_of(declared, basis)
        unit = declared.unit.format(currency="GBP", unit="bins")
        known[name] = Figure(name, f"What {place}", 1000.37 + place, None, None, unit, "Made up.")
    register = FigureRegister(found.council, found.reporting_year, found.version, found.loads)
    for figure in known.values():
        register.add(figure)
    return register


@pytest.fixture(scope="module")
def document(made):
    return build_document(fuller.contents(made=made))


def tables_of(document):
    sections = [*document.sections]
    for section in sections:
        sections.extend(section.parts)
    blocks = [block for section in sections for block in section.blocks]
    return {block.key: block for block in blocks if isinstance(block, Table)}


SHOWN = [(one.id, table) for one in CATALOGUE.values() for table in one.shown]


@pytest.mark.parametrize(("figure_id", "table"), SHOWN)
def test_a_figure_stands_in_every_table_that_it_is_declared_for(document, figure_id, table):
    rows = tables_of(document)[table].rows
    told = {name for row in rows for cell in row for name in cell.figure_ids}
    assert part_of(CATALOGUE[figure_id]) in told


def test_word_document_page_workbook_and_explain_have_every_figure_of_a_table(
    made, document, tmp_path
):
    write_word(tmp_path / "report.docx", document, made)
    write_page(tmp_path / "report.html", document)
    workbook = tmp_path / "report.xlsx"
    write_workbook(workbook, fuller.contents(made=made), document)
    page = (tmp_path / "report.html").read_text("utf-8")
    sheets = load_workbook(workbook).worksheets
    values = {
        round(cell.value, 6)
        for sheet in sheets
        if sheet.title != "Figures"
        for row in sheet.iter_rows()
        for cell in row
        if isinstance(cell.value, float)
    }
    for figure_id, _ in SHOWN:
        figure = made[part_of(CATALOGUE[figure_id])]
        assert f'data-figure="{figure.id}"' in page, figure.id
        assert round(figure.value, 6) in values, figure.id
        assert f"[{figure.id}]" in explain(made, figure.id, Wording.of(synthetic.program()))


def test_each_row_of_the_table_is_a_figure_or_a_list_of_its_own():
    rows = (files("planner.report.figures") / "figures.csv").read_text("utf-8").splitlines()
    told = [row for row in rows if not row.startswith("#")]
    assert len(told) == 1 + len(CATALOGUE) + len(LISTS)
    assert {one.rule for one in CATALOGUE.values()} - {""} <= {rule.name for rule in RULES}


def test_what_a_figure_rests_on_exists():
    factors = {factor.factor_id for factor in read_factors()}
    queries = {path.stem for path in QUERIES.rglob("*.sql")}
    known = {part_of(one, basis) for one in CATALOGUE.values() for basis in synthetic.BASES}
    for one in CATALOGUE.values():
        for token in one.rests_on.split():
            kind, _, name = token.partition(":")
            if re.fullmatch(r"\{\w+\}", token):
                continue
            if kind == "factor":
                assert name.partition("/")[0] in factors, token
            elif kind == "query":
                assert name in queries, token
                assert name in FRAMES, token
            elif kind == "key":
                assert _is_setting(name), token
            else:
                assert filled(token) in known or "{line}" in token, token


def _is_setting(key):
    block, _, name = key.partition(".")
    of_block = Program.model_fields.get(block)
    if key in summed_up(synthetic.program()) or (of_block and not name):
        return True
    kind = of_block.annotation
    kind = getattr(kind, "__args__", (kind,))[0]
    return name in kind.model_fields


def test_each_chart_names_a_section_and_stands_there_once(made):
    drawings = drawings_of(made, Wording("en_GB", "GBP"), 8.0, synthetic.area_names())
    assert {drawing.section for drawing in drawings} <= set(SECTION_KEYS)
    assert len({drawing.name for drawing in drawings}) == len(drawings)


def out(**declared):
    year = SimpleNamespace(
        program=SimpleNamespace(council=SimpleNamespace(currency="GBP")),
        counts=SimpleNamespace(handovers=np.zeros((7, 1))),
    )
    unit, method = "{currency} per t", "from_program {how}"
    one = FigureDeclaration(
        "fed_t[{area_id}]", unit, method=method, rule="measured_again", **declared
    )
    return Writer(FigureRegister("Town", "2025-26", "1"), year, {one.id: one})


def test_words_in_braces_are_filled_and_braces_of_the_officer_s_stay():
    words = {"area_id": "a {x}", "area": "Mill {x}", "how": "By scales."}
    figure = out(rests_on="bins[{area_id}]").put("fed_t[{area_id}]", 2.0, words)
    assert (figure.id, figure.label) == ("fed_t[a {x}]", "Mill {x}: food scraps fed")
    said = f"From the program file. By scales. {CATALOGUE['fed_t'].followed()}"
    assert (figure.unit, figure.method) == ("GBP per t", said)
    assert [item.name for item in figure.inputs] == ["bins[a {x}]"]


def test_what_is_hidden_names_no_inputs_and_what_is_missing_does():
    for why, count in ((HIDDEN, 0), ("why.no_ledger", 1), ("Nothing was fed.", 1)):
        figure = out(rests_on="bins").put("fed_t[{area_id}]", None, why=why, area_id="a", area="A")
        said = in_english(why)
        assert (figure.value, figure.method, len(figure.inputs)) == (None, said, count)


def own_keys(one):
    """Keys of the words that are a figure's own: its label, its method, its words in tables."""
    columns = {one.column_key(table) for table in one.shown}
    methods = {key for key in one.method_keys if not key.startswith("{")}
    return {one.label_key}, methods, columns


def test_every_figure_has_its_words_and_no_words_are_left_over():
    known = {key for begin in ("figure.", "how.") for key in keys(begin)}
    labels, methods, columns = (
        set().union(*parts) for parts in zip(*map(own_keys, CATALOGUE.values()), strict=True)
    )
    assert labels | methods <= known
    said_elsewhere = {"how.from_program", *tonnes.CAUTIONS}
    assert known - labels - methods - columns - said_elsewhere == set()


@pytest.mark.parametrize("language", languages())
def test_no_two_figures_of_a_table_have_one_label(language):
    text = messages_for(language, language).text
    for table in {table for one in CATALOGUE.values() for table in one.shown}:
        # lines of the account share a label, which is filled with the line's own name
        said = [
            text(one.label_key)
            for one in CATALOGUE.values()
            if table in one.shown and not one.label
        ]
        assert len(set(said)) == len(said), table


@pytest.mark.parametrize("language", languages())
def test_no_two_lines_of_the_account_have_one_name(language):
    names = [messages_for(language, language).text(f"line.{line}") for line in (*LINES, NET)]
    assert len(set(names)) == len(names)


def test_a_report_in_french_keeps_ids_and_units_and_says_the_rest_in_french():
    write_papers_in("fr_FR", "fr")
    words = {"area_id": "a", "area": "Moulin", "how": "À la balance."}
    figure = out(rests_on="bins").put("fed_t[{area_id}]", 2.0, words)
    hidden = out(rests_on="bins").put("fed_t[{area_id}]", None, words, why=HIDDEN)
    write_papers_in("en_GB", "en")
    assert (figure.id, figure.unit) == ("fed_t[a]", "GBP per t")
    assert figure.label == "Moulin\u202f: restes de cuisine apportés"
    assert figure.method.startswith("D'après le fichier du programme. À la balance. Suit ISO")
    assert is_hidden(hidden)


def test_a_draw_that_is_not_a_number_is_refused():
    with pytest.raises(ValueError, match="not a number"):
        out().put("fed_t[{area_id}]", np.array([1.0, np.nan, 2.0]), area_id="a", area="a", how="")


@pytest.mark.parametrize(
    ("language", "day"),
    [("en", "on 30 June 2026"), ("fr", "au 30 juin 2026"), ("es", "a 30 de junio de 2026")],
)
def test_a_running_year_is_dated_as_the_language_writes_days(language, day):
    made = out()
    made.register.through_date = "2026-06-30"
    write_papers_in("en_GB", language)
    words = made._of_dates()
    write_papers_in("en_GB", "en")
    assert words["at_end"] == day
