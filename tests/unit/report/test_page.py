"""The web page: one file, every number marked, readable without scripts."""

from __future__ import annotations

import base64
import hashlib
import re
import xml.etree.ElementTree as ET
from html.parser import HTMLParser
from itertools import pairwise

import pytest

from planner.report.document import Shown, Table
from planner.report.document.building import build_document
from planner.report.page import write_page
from tests.unit.report import fuller
from tests.unit.report.read_back import is_shown_by
from tests.unit.report.test_document import SECTION_KEYS, statements


def _sections(document):
    for section in document.sections:
        yield section
        yield from section.parts


OWN_HEADINGS = ("Contents", "Look closer", "Appendices")
VOID = {"meta", "link", "img", "source"}


class Tree(HTMLParser):
    """Reads a page into a list of elements with their text, and holds it to be well formed."""

    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.open, self.elements = [], []

    def handle_starttag(self, tag, attrs):
        element = {"tag": tag, "text": "", "inside": [e["tag"] for e in self.open], **dict(attrs)}
        self.elements.append(element)
        if tag not in VOID:
            self.open.append(element)

    def handle_endtag(self, tag):
        assert self.open.pop()["tag"] == tag

    def handle_data(self, data):
        for element in self.open:
            element["text"] += data

    def all(self, tag):
        return [element for element in self.elements if element["tag"] == tag]


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    folder = tmp_path_factory.mktemp("page")
    contents = fuller.contents(folder, country_locale="fr_FR", currency="EUR")
    contents.area_names["a000"] = 'Fish & Chips <script>alert("x")</script>'
    document = build_document(contents)
    path = folder / "report.html"
    write_page(path, document)
    tree = Tree()
    tree.feed(path.read_text(encoding="utf-8"))
    assert not tree.open
    return contents, document, path, tree


def test_every_marked_number_is_that_of_its_figure(page):
    contents, document, _, tree = page
    marked = [e for e in tree.elements if "data-figure" in e]
    shown = [
        part
        for one in statements(document, SECTION_KEYS)
        for part in one.parts
        if isinstance(part, Shown)
    ]
    assert sorted((e["data-figure"], e["text"]) for e in marked) == sorted(
        (part.figure_id, part.words) for part in shown
    )
    for element in marked:
        figure = contents.register[element["data-figure"]]
        assert is_shown_by(element["text"], figure, "fr_FR"), element


def test_nothing_is_fetched_and_only_our_own_script_runs(page):
    _, _, path, tree = page
    text = path.read_text(encoding="utf-8")
    (script,) = tree.all("script")
    assert set(script) == {"tag", "text", "inside"}
    digest = base64.b64encode(hashlib.sha256(script["text"].encode()).digest()).decode()
    assert not re.search(r"fetch|XMLHttp|import\b|eval|innerHTML|https?:", script["text"])
    assert not any(name.startswith("on") for e in tree.elements for name in e)
    sources = [e[a] for e in tree.elements for a in ("src", "href") if a in e]
    assert all(s.startswith(("#", "data:")) for s in sources)
    assert "url(" not in text.partition("</style>")[0]
    assert "@import" not in text
    policy = next(e for e in tree.all("meta") if e.get("http-equiv"))
    assert policy["content"].startswith("default-src 'none'")
    assert policy["content"].endswith(f"script-src 'sha256-{digest}'")
    assert "<script>alert" not in text


def test_landmarks_headings_and_skip_link_are_there(page):
    _, document, _, tree = page
    for tag in ("header", "nav", "main", "footer", "h1"):
        assert len(tree.all(tag)) == 1
    assert tree.all("html")[0]["lang"] == document.language == "en-GB"
    first_link = tree.all("a")[0]
    assert first_link["class"] == "skip"
    ids = [e["id"] for e in tree.elements if "id" in e]
    assert len(set(ids)) == len(ids)
    assert all(e["href"].removeprefix("#") in ids for e in tree.all("a"))
    levels = [int(e["tag"][1]) for e in tree.elements if re.fullmatch(r"h\d", e["tag"])]
    assert all(b - a <= 1 for a, b in pairwise(levels))
    headings = [e["text"] for e in tree.elements if e["tag"] in ("h2", "h3", "h4")]
    assert [one for one in headings if one not in OWN_HEADINGS] == [
        s.heading for s in _sections(document)
    ]
    regions = [e for e in tree.elements if "aria-labelledby" in e]
    assert all(e["aria-labelledby"] in ids for e in regions)


def test_tables_name_their_rows_and_columns(page):
    _, document, _, tree = page
    tables = [b for s in _sections(document) for b in s.blocks if isinstance(b, Table)]
    assert [e["text"] for e in tree.all("caption")] == [t.caption for t in tables]
    heads = tree.all("th")
    assert {e["scope"] for e in heads if "thead" in e["inside"]} == {"col"}
    assert {e["scope"] for e in heads if "tbody" in e["inside"]} == {"row"}
    assert len([e for e in heads if e["scope"] == "row"]) == sum(len(t.rows) for t in tables)


def test_charts_are_inside_and_described(page):
    contents, _, _, tree = page
    images = tree.all("img")
    assert {e["alt"] for e in images} == {chart.alt_text for chart in contents.charts}
    for image in images:
        kind, _, coded = image["src"].partition(",")
        assert kind == "data:image/svg+xml;base64"
        assert ET.fromstring(base64.b64decode(coded)).tag.endswith("svg")  # noqa: S314


def test_the_same_report_gives_the_same_page(page, tmp_path):
    _, document, path, _ = page
    write_page(tmp_path / "again.html", document)
    assert (tmp_path / "again.html").read_bytes() == path.read_bytes()


def test_points_that_follow_each_other_are_one_list(page):
    _, _, _, tree = page
    lists = [e for e in tree.all("ul") if "main" in e["inside"]]
    items = [e for e in tree.all("li") if "main" in e["inside"]]
    assert len(items) > 2 * len(lists) > 0
