"""The Word document: every number marked, every style known, the same bytes again."""

from __future__ import annotations

import datetime as dt
import io
import re
import zipfile

import docx
import pytest
from docx.oxml.ns import qn

from planner.errors import ReportError
from planner.paths import TEMPLATES
from planner.report.document import Picture, Shown, Table
from planner.report.document.building import APPENDIX_KEYS, BRIEF_KEYS, PAPER_KEYS, build_document
from planner.report.word.body import _widened
from planner.report.word.marks import LONGEST_NAME, bookmark_name
from planner.report.word.placeholders import check_template, copy_template, open_template
from planner.report.word.writing import write_parts, write_word
from planner.vetting import guard
from templates.maker.report import part_template, starting_template
from tests.unit.report import fuller
from tests.unit.report.read_back import is_shown_by

BOOKMARK = re.compile(r"(?P<words>[A-Za-z]\w*)__(?P<place>\d+)_(?P<time>\d+)")


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    """Write one report in Word, in Germany's numbers."""
    folder = tmp_path_factory.mktemp("word")
    contents = fuller.contents(folder, country_locale="de_DE", currency="EUR")
    document = build_document(contents)
    path = folder / "report.docx"
    left_out = write_word(path, document, contents.register)
    return contents, document, path, left_out


def bookmarks(word):
    """Texts between the start and the end of each bookmark, by its name."""
    texts, open_now = {}, {}
    for element in word.element.body.iter():
        if element.tag == qn("w:bookmarkStart"):
            name = element.get(qn("w:name"))
            assert name not in texts
            texts[name] = ""
            open_now[element.get(qn("w:id"))] = name
        elif element.tag == qn("w:bookmarkEnd"):
            del open_now[element.get(qn("w:id"))]
        elif element.tag == qn("w:t"):
            for name in open_now.values():
                texts[name] += element.text or ""
        elif element.tag == qn("w:noBreakHyphen"):
            for name in open_now.values():
                texts[name] += "-"
    assert not open_now
    return texts


def text_of(word):
    """Join all text, with the hyphens that never end a line."""
    pieces = word.element.body.iter(qn("w:t"), qn("w:noBreakHyphen"))
    return "".join("-" if p.tag == qn("w:noBreakHyphen") else p.text or "" for p in pieces)


def test_every_bookmarked_number_is_that_of_its_figure(written):
    contents, document, path, _ = written
    figures = list(contents.register)
    marked = {
        name: text
        for name, text in bookmarks(docx.Document(path)).items()
        if not name.startswith("_Toc")
    }
    shown = [part for one in _statements(document) for part in one.parts if isinstance(part, Shown)]
    assert len(marked) == len(shown) > 100
    for name, text in marked.items():
        assert len(name) <= LONGEST_NAME
        figure = figures[int(BOOKMARK.fullmatch(name)["place"]) - 1]
        beginning = re.sub(r"\W+", "_", figure.id)[: len(BOOKMARK.fullmatch(name)["words"])]
        assert name.startswith(beginning.rstrip("_"))
        assert is_shown_by(text, figure, "de_DE"), (name, text)


def _statements(document):
    for section in (*_of_paper(document), *(p for s in _of_paper(document) for p in s.parts)):
        for block in section.blocks:
            if isinstance(block, Table):
                yield from (cell for row in block.rows for cell in row)
            elif not isinstance(block, Picture):
                yield from block.statements


def test_the_whole_text_is_there_in_order(written):
    _, document, path, left_out = written
    assert left_out == ()
    word = docx.Document(path)
    headings = [p.text for p in word.paragraphs if p.style.name.startswith("Heading")]
    expected = []
    for section in _of_paper(document):
        expected += [section.heading, *(part.heading for part in section.parts)]
    assert headings == expected
    text = text_of(word)
    for one in _statements(document):
        assert one.words in text


def test_tables_repeat_their_heading_row_and_have_a_caption(written):
    _, document, path, _ = written
    word = docx.Document(path)
    tables = [b for s in _sections(document) for b in s.blocks if isinstance(b, Table)]
    assert len(word.tables) == len(tables) > 10
    for made, table in zip(word.tables, tables, strict=True):
        first, *others = made.rows
        assert first._tr.trPr.find(qn("w:tblHeader")) is not None
        assert all(row._tr.trPr.find(qn("w:tblHeader")) is None for row in others)
        assert [cell.text for cell in first.cells] == [c.heading for c in table.columns]
        assert made._tbl.tblPr.find(qn("w:tblCaption")).get(qn("w:val")) == table.caption
        assert made.style.name == "Report Table"


def _sections(document):
    """Sections of the main paper with their parts."""
    for section in _of_paper(document):
        yield section
        yield from section.parts


def _of_paper(document):
    return [section for section in document.sections if section.key in PAPER_KEYS]


def test_captions_are_numbered_by_fields_from_one(written):
    _, _, path, _ = written
    word = docx.Document(path)
    captions = [p.text for p in word.paragraphs if p.style.name == "Caption"]
    tables = [c for c in captions if c.startswith("Table ")]
    assert [int(re.match(r"Table (\d+):", c)[1]) for c in tables] == [*range(1, len(tables) + 1)]
    fields = [f.text for f in word.element.body.iter(qn("w:instrText"))]
    assert sum("SEQ Table" in f for f in fields) == len(tables)
    assert sum("SEQ Chart" in f for f in fields) == 3


def test_contents_show_every_heading_with_the_field_of_its_page(written):
    _, document, path, _ = written
    word = docx.Document(path)
    links = [
        ("".join(t.text for t in link.iter(qn("w:t"))), link.get(qn("w:anchor")))
        for link in word.element.body.iter(qn("w:hyperlink"))
        if link.get(qn("w:anchor"))
    ]
    assert [text.removesuffix("–") for text, _ in links] == [s.heading for s in _sections(document)]
    texts = bookmarks(word)
    assert all(texts[anchor] == text.removesuffix("–") for text, anchor in links)
    fields = [f.text.strip() for f in word.element.body.iter(qn("w:instrText"))]
    for _, anchor in links:
        assert f"PAGEREF {anchor} \\h" in fields
    # a field that is marked is brought up to date on opening, and nothing is asked
    with zipfile.ZipFile(path) as archive:
        assert b"updateFields" not in archive.read("word/settings.xml")


def test_pictures_carry_their_words(written):
    contents, _, path, _ = written
    described = {e.get("descr") for e in docx.Document(path).element.body.iter(qn("wp:docPr"))}
    assert described == {chart.alt_text for chart in contents.charts}
    ids = [e.get("id") for e in docx.Document(path).element.body.iter(qn("wp:docPr"))]
    assert len(set(ids)) == len(ids)


def test_properties_and_language_are_those_of_the_report(written):
    contents, document, path, _ = written
    word = docx.Document(path)
    properties = word.core_properties
    assert properties.author == properties.last_modified_by == contents.register.council
    assert properties.title == f"{contents.register.council}: Worm bins in 2025-26"
    newest = contents.quality.newest.replace(tzinfo=dt.UTC)
    assert properties.created == properties.modified == newest
    languages = {e.get(qn("w:val")) for e in word.styles.element.iter(qn("w:lang"))}
    assert languages == {document.language} == {"en-GB"}


def test_the_same_report_gives_the_same_bytes(written, tmp_path):
    contents, document, path, _ = written
    again = tmp_path / "again.docx"
    write_word(again, document, contents.register)
    assert again.read_bytes() == path.read_bytes()
    with zipfile.ZipFile(again) as archive:
        assert {entry.date_time for entry in archive.infolist()} == {
            contents.quality.newest.timetuple()[:6]
        }
        assert archive.testzip() is None


def test_odd_words_of_the_officer_s_stay_words(tmp_path):
    names = "Fish & Chips <Lane> {{ title }} {% if %}\x07\nEnd"
    contents = fuller.contents(country_locale="en_GB")
    contents.area_names["a000"] = names
    path = tmp_path / "odd.docx"
    write_word(path, build_document(contents), contents.register)
    text = "".join(t.text or "" for t in docx.Document(path).element.body.iter(qn("w:t")))
    assert "Fish & Chips <Lane> {{ title }} {% if %} End" in text


@pytest.mark.parametrize(
    ("figure_id", "name"),
    [
        ("fed_t", "fed_t__7_1"),
        ("9[é]", "f_9__7_1"),
        ("emissions_avoided_100_years_t_co2e[a very long area]", None),
    ],
)
def test_names_of_bookmarks_are_those_that_word_takes(figure_id, name):
    """ECMA-376 part 1, 17.13.6.2: at most 40 characters; Word wants a letter first."""
    made = bookmark_name(figure_id, 7, 1)
    assert re.fullmatch(r"[A-Za-z][A-Za-z0-9_]{0,39}", made)
    assert name is None or made == name


def template(tmp_path, *lines, footer=""):
    word = docx.Document()
    for line in lines:
        word.add_paragraph(line)
    word.sections[0].footer.paragraphs[0].text = footer
    path = tmp_path / "own.docx"
    word.save(path)
    return path


def test_a_council_s_own_template_orders_the_sections(tmp_path):
    own = template(
        tmp_path, "Ours: {{ title }}", "{{p money }}", "{{p summary }}", footer="{{ council }}"
    )
    contents = fuller.contents()
    document, path = build_document(contents), tmp_path / "out.docx"
    left_out = write_word(path, document, contents.register, own)
    word = docx.Document(path)
    headings = [p.text for p in word.paragraphs if p.style.name == "Heading 1"]
    assert headings == ["Money", "Decision brief"]
    assert word.paragraphs[0].text == "Ours: Worm bins in 2025-26"
    assert word.sections[0].footer.paragraphs[0].text == contents.register.council
    assert set(left_out) == {
        s.heading for s in _of_paper(document) if s.key not in ("money", "summary")
    }
    captions = [p.text for p in word.paragraphs if p.style.name == "Caption"]
    assert captions[0].startswith("Table 1: ")


def test_everything_stands_for_all_sections(tmp_path):
    own = template(tmp_path, "{{p everything }}")
    contents = fuller.contents()
    document, path = build_document(contents), tmp_path / "out.docx"
    assert write_word(path, document, contents.register, own) == ()
    headings = [p.text for p in docx.Document(path).paragraphs if p.style.name == "Heading 1"]
    assert headings == [section.heading for section in _of_paper(document)]


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        (("{{p sumary }}", "{{p money }}"), ("sumary: not known. Did you mean summary?",)),
        (("{{p money }}", "{{ mayor }}"), ("mayor: not known. There are title",)),
        (("{{ summary }}",), ("summary: write {{p summary }} on a line of its own",)),
        (("As {{p summary }} says",), ("summary: put {{p summary }} on a line of its own",)),
        (("{{p summary }}", "{{p title }}"), ("title: write {{ title }}, without p",)),
        (("{{ title }}",), ("found no section", "{{p everything }}")),
        (("{{p money }}", "{% for %}"), ("a placeholder cannot be read",)),
        (("{{p money }}", "{{ title"), ("a placeholder cannot be read",)),
    ],
)
def test_faults_of_a_template_are_named(tmp_path, lines, words):
    own = template(tmp_path, *lines)
    with pytest.raises(ReportError) as caught:
        open_template(own)
    for word in (str(own), *words):
        assert word in str(caught.value)


def test_all_faults_are_named_in_one_pass(tmp_path):
    own = template(tmp_path, "{{p sumary }}", "{{ money }}", "{{ council }}")
    with pytest.raises(ReportError, match="2 placeholders need fixing") as caught:
        open_template(own)
    assert "sumary" in str(caught.value)
    assert "money" in str(caught.value)


def test_a_template_cannot_reach_into_the_machine(tmp_path):
    reach = "{{ title.__class__.__mro__[1].__subclasses__() }}"
    own = template(tmp_path, "{{p money }}", reach)
    contents = fuller.contents()
    with pytest.raises(ReportError, match="cannot be filled"):
        write_word(tmp_path / "out.docx", build_document(contents), contents.register, own)
    assert not (tmp_path / "out.docx").exists()


def test_files_that_are_no_template_are_refused(tmp_path):
    missing, text, macros = (tmp_path / n for n in ("none.docx", "text.docx", "macros.docm"))
    text.write_text("hello")
    out = io.BytesIO(starting_template())
    with zipfile.ZipFile(out, "a") as archive:
        archive.writestr("word/vbaProject.bin", b"x")
    macros.write_bytes(out.getvalue())
    for path, words in (
        (missing, "found no template"),
        (text, "not a Word document"),
        (macros, "holds macros"),
    ):
        with pytest.raises(ReportError, match=words):
            open_template(path)


def test_brief_and_appendices_stand_in_files_of_their_own(tmp_path):
    contents = fuller.contents(tmp_path)
    document = build_document(contents)
    write_parts(tmp_path, document, contents.register)
    for name, keys in (("brief.docx", BRIEF_KEYS), ("appendices.docx", APPENDIX_KEYS)):
        word = docx.Document(tmp_path / name)
        headings = [p.text for p in word.paragraphs if p.style.name == "Heading 1"]
        assert headings == [document.section(key).heading for key in keys]


def test_the_templates_that_ship_are_those_that_are_made():
    assert (TEMPLATES / "report.docx").read_bytes() == starting_template()
    assert (TEMPLATES / "part.docx").read_bytes() == part_template()


def test_the_template_that_ships_places_every_section_once(tmp_path):
    path = tmp_path / "copy.docx"
    copy_template(path)
    text = [p.text for p in docx.Document(path).paragraphs]
    placed = [t for t in text if t.startswith("{{p ")]
    assert placed[:2] == ["{{p summary }}", "{{p contents }}"]
    assert [*placed[:1], *placed[2:]] == [f"{{{{p {key} }}}}" for key in PAPER_KEYS]
    with pytest.raises(ReportError, match="is there already"):
        copy_template(path)
    copy_template(path, force=True)


def test_columns_are_widened_at_the_cost_of_those_with_room_and_the_whole_stays():
    assert _widened([40.0, 30.0, 30.0], [20.0, 36.0, 10.0]) == pytest.approx([37.0, 36.0, 27.0])
    # where all have what they need, shares stay; where not all can, each lacks the same part
    assert _widened([40.0, 60.0], [20.0, 50.0]) == [40.0, 60.0]
    assert _widened([20.0, 80.0], [60.0, 140.0]) == pytest.approx([30.0, 70.0])


@pytest.mark.thorough
@pytest.mark.parametrize(
    ("mark", "words"),
    [
        ("{{ 'a' * 300000000000 }}", "asks for more"),
        ("{{ 9 ** 99999999 }}", "takes longer|asks for more"),
        ("{% include 'title' %}", "cannot be filled"),
        ("{% macro m() %}{{ m() }}{% endmacro %}{{ m() }}", "cannot be filled|breaks the reader"),
    ],
)
def test_a_template_made_to_harm_ends_in_one_sentence(tmp_path, monkeypatch, mark, words):
    monkeypatch.setattr(guard, "CPU_SECONDS", 4)
    own = template(tmp_path, "{{p money }}", mark)
    contents = fuller.contents()
    with pytest.raises(ReportError, match=words) as caught:
        write_word(tmp_path / "out.docx", build_document(contents), contents.register, own)
    assert "own.docx" in str(caught.value)
    assert not (tmp_path / "out.docx").exists()


@pytest.mark.thorough
def test_a_template_is_checked_in_a_process_of_its_own(tmp_path):
    check_template(template(tmp_path, "{{p money }}"))
    with pytest.raises(ReportError, match="sumary: not known"):
        check_template(template(tmp_path, "{{p sumary }}"))
    with pytest.raises(ReportError, match="found no template"):
        check_template(tmp_path / "none.docx")
