"""One rule of rounding in every output: wherever a figure is printed, it has the same digits.

The rule is that of the Particle Data Group's Review of Particle Physics, introduction, section
5.3, written here a second time: of the half width's first three digits, up to 354 keep two
digits, 355 to 949 one, and 950 to 999 are 1000 with two.
"""

from __future__ import annotations

import math
import re
from collections import defaultdict
from dataclasses import replace
from types import SimpleNamespace

import docx
import numpy as np
import openpyxl
import pytest
from docx.oxml.ns import qn

from planner.paths import APPENDIX_FILE, BRIEF_FILE, WORD_FILE
from planner.report.acquittal import write_acquittal
from planner.report.document.building import APPENDIX_KEYS, BRIEF_KEYS, PAPER_KEYS, build_document
from planner.report.document.saying import Saying
from planner.report.page import write_page
from planner.report.press import sentence
from planner.report.progress import write_progress
from planner.report.word.writing import write_word
from planner.report.wording import Wording
from planner.report.workbook.writing import write_workbook
from planner.rounding import LOPSIDED
from tests.unit.report import fuller, test_acquittal, test_progress
from tests.unit.report.read_back import numbers

BRITISH = "en_GB"
FIGURE = re.compile(r'data-figure="([^"]+)" data-shows="(?!chance)[a-z]+">([^<]*)<')
OF_YEAR = re.compile(r"of_year\[[^,]+, (.+)\]")
BOOKMARK = re.compile(r"[A-Za-z]\w*__(\d+)_\d+")


def of_page(path):
    """Figures of a page and their text."""
    return FIGURE.findall(path.read_text(encoding="utf-8"))


def of_word(path, register):
    """Figures of a Word document and their text: a bookmark holds the place of its figure."""
    ids, names, texts, open_now = [figure.id for figure in register], {}, {}, set()
    for element in docx.Document(str(path)).element.body.iter():
        if element.tag == qn("w:bookmarkStart"):
            found, key = BOOKMARK.fullmatch(element.get(qn("w:name"))), element.get(qn("w:id"))
            if found:
                names[key], texts[key] = ids[int(found[1]) - 1], ""
                open_now.add(key)
        elif element.tag == qn("w:bookmarkEnd"):
            open_now.discard(element.get(qn("w:id")))
        elif element.tag in (qn("w:t"), qn("w:noBreakHyphen")):
            for key in open_now:
                texts[key] += "-" if element.tag == qn("w:noBreakHyphen") else element.text or ""
    return [(names[key], text) for key, text in texts.items()]


def of_workbook(path, register):
    """Figures of the sheet of the year as a spreadsheet shows them, found by their label."""
    labels = {figure.label: figure.id for figure in register}
    for row in openpyxl.load_workbook(path)["The year"].iter_rows():
        name = labels.get(row[0].value)
        for cell in row[1:] if name else ():
            if isinstance(cell.value, int | float) and cell.number_format != "General":
                digits = len(cell.number_format.rstrip("%").partition(".")[2])
                share = "%" in cell.number_format
                value = cell.value * 100.0 if share else cell.value
                yield name, f"{value:.{digits}f}{'%' if share else ''}"


def of_press(register):
    """Figures said in a sentence for the press; the part that tells the figure."""
    issue = SimpleNamespace(reporting_year="2025-26", number=1, issued_on="2026-08-14")
    for figure in (one for one in register if one.value is not None):
        said = sentence(Saying(register, Wording(BRITISH, "GBP")), figure, issue)
        told = said.partition(f"{register.council}: ")[2].partition(";")[0]
        yield figure.id, told.replace("CO2-e", "")


def of_acquittal(folder, register):
    """Figures of a year in a grant's paper and page, under their own names."""
    program = test_acquittal.program_with(folder, test_acquittal.block())
    grant = test_acquittal.acquitted(folder / "store", program)
    acquittal = replace(grant, years=(register,))
    word, page = write_acquittal(folder, acquittal)
    for path, texts in (
        (word, of_word(word, acquittal.register)), (page, of_page(page))
    ):  # fmt: skip
        told = [(OF_YEAR.fullmatch(name), text) for name, text in texts]
        yield path.name, [(found[1], text) for found, text in told if found]


@pytest.fixture(scope="module")
def printed(tmp_path_factory):
    """Every output of one register, and what each prints of which figure."""
    folder = tmp_path_factory.mktemp("printed")
    contents, running = fuller.contents(), test_progress.contents()
    # the year that runs has the figures of the year, in their order, and its forecasts after them
    document, register = build_document(contents), running.register
    assert [one.id for one in register][: len([*contents.register])] == [
        one.id for one in contents.register
    ]
    for name, keys in (
        (WORD_FILE, PAPER_KEYS), (BRIEF_FILE, BRIEF_KEYS), (APPENDIX_FILE, APPENDIX_KEYS)
    ):  # fmt: skip
        write_word(folder / name, document, contents.register, None, keys)
    write_page(folder / "page.html", document)
    write_workbook(folder / "book.xlsx", contents, document)
    files = write_progress(folder, running, test_progress.field(), np.linspace(8.0, 12.0, 101))
    papers = (WORD_FILE, BRIEF_FILE, APPENDIX_FILE)
    found = {name: of_word(folder / name, register) for name in papers}
    found |= {path.name: of_word(path, register) for path in files if path.suffix == ".docx"}
    found |= {"page": of_page(folder / "page.html"), files[0].name: of_page(files[0])}
    found |= {"workbook": [*of_workbook(folder / "book.xlsx", register)]}
    found |= of_acquittal(folder, contents.register)
    return register, found | {"press": [*of_press(register)]}


def kept(figure):
    """Decimals that the interval of a figure allows, by the Group's rule."""
    scale = 100.0 if figure.unit == "share" else 1.0
    shorter = min(figure.value - figure.low, figure.high - figure.value)
    half = (figure.high - figure.low) / 2.0
    half = scale * (min(half, LOPSIDED * shorter) if shorter > 0.0 else half)
    exponent = math.floor(math.log10(half))
    first = round(half / 10.0**exponent, 2)
    return (1 if first < 3.55 else 0) - exponent


def digits_of(register, name, text):
    """Tell for each number of a text whether it is value, low, high or mean of its figure."""
    figure = register[name]
    known = {what: getattr(figure, what) for what in ("value", "low", "high", "mean")}
    for value, half_unit in numbers(text.replace("CO2-e", ""), BRITISH):
        apart = {w: abs(one - value) for w, one in known.items() if one is not None}
        what = min(apart, key=apart.get)
        if apart[what] <= half_unit * (1 + 1e-9):
            yield what, value


def test_every_output_prints_some_figures(printed):
    _, found = printed
    assert len(found) == 11
    assert min(map(len, found.values())) > 1
    assert sum(map(len, found.values())) > 500


def test_a_figure_has_the_same_digits_in_every_output(printed):
    register, found = printed
    digits = defaultdict(lambda: defaultdict(set))
    for output, texts in found.items():
        for name, text in texts:
            for what, value in digits_of(register, name, text):
                digits[name, what][round(value, 9)].add(output)
    shared = [one for one in digits.values() if len(set().union(*one.values())) > 1]
    assert len(shared) > 60
    assert {key: dict(one) for key, one in digits.items() if len(one) > 1} == {}


def test_no_output_prints_more_digits_than_the_interval_allows(printed):
    register, found = printed
    held = 0
    for output, texts in found.items():
        for name, text in texts:
            figure = register[name]
            if None in (figure.value, figure.low, figure.high) or figure.high == figure.low:
                continue
            for what, value in digits_of(register, name, text):
                exact = 100.0 * value if figure.unit == "share" else value
                assert round(exact, kept(figure)) == pytest.approx(exact), (output, what, text)
                held += 1
    assert held > 300
