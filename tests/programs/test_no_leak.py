"""Everything that a report writes, read by somebody who looks for a hidden household.

What is hidden is told by the figures; where a hidden area or month is named, in any file,
no number may stand with it.
"""

from __future__ import annotations

import html
import re
import shutil
from html.parser import HTMLParser

import docx
import openpyxl
import pytest

from planner import reporting
from planner.figures import read_register
from planner.paths import (
    APPENDIX_FILE,
    FIGURES_FILE,
    PAGE_FILE,
    PROGRAM_FILE,
    REPORT_FOLDER,
    WORD_FILE,
    WORKBOOK_FILE,
)
from planner.report.wording import Wording
from tests.unit.report.read_back import is_shown_by
from tests.unit.report.test_word import BOOKMARK, bookmarks

TOWN, LABEL = "valdorra", "2025"
THRESHOLD = 25
"""With it several areas and months are hidden."""

DIGIT = re.compile(r"\d")


@pytest.fixture(scope="module")
def written(sample, tmp_path_factory):
    """Report a year with a high threshold, and give its folder and result."""
    folder = tmp_path_factory.mktemp("leak")
    for path in sample(TOWN).folder.iterdir():
        if path.is_file():
            shutil.copy(path, folder / path.name)
    program = folder / PROGRAM_FILE
    text = re.sub(
        r"small_cell_threshold = \d+", f"small_cell_threshold = {THRESHOLD}", program.read_text()
    )
    text = re.sub(r"draws_count = \d+", "draws_count = 200", text)
    program.write_text(text)
    return folder / REPORT_FOLDER, reporting.report(folder, LABEL)


def hidden(register, name):
    return [part for part, figure in register.parts(name).items() if figure.value is None]


@pytest.fixture(scope="module")
def hidden_names(written, sample):
    """Names of the hidden areas, and hidden months as the report writes them."""
    _, result = written
    names = dict(_area_names(sample))
    areas = [names[a] for a in hidden(result.register, "bins_given")]
    months = hidden(result.register, "bins_given_in_month")
    assert areas
    assert months
    wording = Wording.of(result.program)
    return areas, {wording.month(month) for month in months} | set(months)


def _area_names(sample):
    year, _ = sample(TOWN).year(LABEL)
    return year.counts.areas.select("area_id", "area_name").iter_rows()


def word_rows(path):
    """Rows of every table, and every paragraph as a row of one cell."""
    word = docx.Document(path)
    for table in word.tables:
        heads = [cell.text for cell in table.rows[0].cells]
        for row in table.rows[1:]:
            yield dict(zip(heads, (cell.text for cell in row.cells), strict=True))
    for paragraph in word.paragraphs:
        yield {"": paragraph.text}


class Rows(HTMLParser):
    """Rows of the tables of a page, paragraphs and captions, and words of its pictures."""

    def __init__(self):
        super().__init__()
        self.heads, self.cells, self.rows, self.text = [], [], [], ""

    def handle_starttag(self, tag, attrs):
        if tag in ("th", "td", "p", "li", "figcaption"):
            self.text = ""
        if tag == "thead":
            self.heads = []
        if tag == "img":
            self.rows.append({"": dict(attrs)["alt"]})

    def handle_data(self, data):
        self.text += data

    def handle_endtag(self, tag):
        if tag in ("th", "td"):
            self.cells.append(self.text)
        elif tag == "tr":
            if self.heads:
                self.rows.append(dict(zip(self.heads, self.cells, strict=True)))
            else:
                self.heads = self.cells
            self.cells = []
        elif tag in ("p", "li", "figcaption"):
            self.rows.append({"": self.text})


def page_rows(path):
    rows = Rows()
    rows.feed(path.read_text(encoding="utf-8"))
    return rows.rows


def workbook_rows(path):
    for sheet in openpyxl.load_workbook(path).worksheets:
        for cells in sheet.iter_rows(values_only=True):
            told = {str(place): str(cell) for place, cell in enumerate(cells) if cell is not None}
            yield {"sheet": sheet.title, **told}


READERS = {
    WORD_FILE: word_rows,
    APPENDIX_FILE: word_rows,
    PAGE_FILE: page_rows,
    WORKBOOK_FILE: workbook_rows,
}


@pytest.mark.parametrize("name", READERS)
def test_no_number_stands_with_a_hidden_area(written, hidden_names, name):
    folder, _ = written
    areas, _ = hidden_names
    named = 0
    for row in READERS[name](folder / name):
        for area in areas:
            cells = [cell for cell in row.values() if area in cell]
            named += bool(cells)
            for cell in cells:
                around = [part for part in re.split(r"(?<=[.;:])\s", cell) if area in part]
                assert not any(DIGIT.search(part.replace(area, "")) for part in around), row
            if any(cell.strip() == area for cell in row.values()):
                others = [cell for cell in row.values() if area not in cell]
                assert not any(DIGIT.search(cell) for cell in others), row
    assert named or name == APPENDIX_FILE, "hidden areas are named as such"


@pytest.mark.parametrize("name", READERS)
def test_a_hidden_month_has_no_count(written, hidden_names, name):
    """Estimates by month are no counts and stay; the count's cell says that it is not shown."""
    folder, _ = written
    _, months = hidden_names
    found = 0
    for row in READERS[name](folder / name):
        first = next(iter([cell for key, cell in row.items() if key != "sheet"]), "")
        if first in months and "Bins given" in row:
            found += 1
            assert row["Bins given"] == "not shown"
        elif first in months and row.get("sheet") == "Months":
            found += 1
            assert "not shown" in row.values()
    # the months stand in the appendices, which the page holds too
    if name not in (WORKBOOK_FILE, WORD_FILE):
        assert found


def test_no_file_tells_more_of_hidden_figures_than_their_ids(written):
    folder, result = written
    ids = [f.id for f in result.register if f.value is None and f.method.startswith("Not shown")]
    assert len(ids) > 10
    for line in (folder / "figures.csv").read_text(encoding="utf-8-sig").splitlines():
        if line.split(",")[0].strip('"') in ids:
            assert ",,," in line
    page = (folder / PAGE_FILE).read_text(encoding="utf-8")
    shown = re.findall(r'data-figure="([^"]+)" data-shows="\w+">([^<]*)<', page)
    assert all(text == "not shown" for figure_id, text in shown if figure_id in ids)
    assert any(figure_id in ids for figure_id, _ in shown)


def test_every_number_of_the_real_documents_is_that_of_its_figure(written):
    """Bookmarks and attributes are read back and held against figures.json, in Spain's digits."""
    folder, result = written
    figures = list(read_register((folder / FIGURES_FILE).read_text(encoding="utf-8")))
    by_id = {figure.id: figure for figure in figures}
    locale = result.program.council.country_locale
    page = (folder / PAGE_FILE).read_text(encoding="utf-8")
    of_page = [
        (by_id[html.unescape(figure_id)], html.unescape(text))
        for figure_id, text in re.findall(r'data-figure="([^"]+)" data-shows="\w+">([^<]*)<', page)
    ]
    of_word = [
        (figures[int(BOOKMARK.fullmatch(name)["place"]) - 1], text)
        for part in (WORD_FILE, APPENDIX_FILE)
        for name, text in bookmarks(docx.Document(folder / part)).items()
        if not name.startswith("_Toc")
    ]
    assert len(of_page) == len(of_word) > 300
    assert sorted((f.id, text) for f, text in of_page) == sorted((f.id, t) for f, t in of_word)
    wrong = [(f.id, text) for f, text in of_page if not is_shown_by(text, f, locale)]
    assert wrong == []
