"""The household sheet as Word document and page, and the letters."""

from __future__ import annotations

import io
import re
import zipfile

import polars as pl
import pytest
from docx import Document
from docx.oxml.ns import qn

from planner.errors import ReportError
from planner.factors import read_factors
from planner.field.household_sheet import PICTURES, TEXTS, letters_of, sheet_words
from planner.figures import FigureRegister
from planner.paths import SAMPLE_PROGRAMS, TEMPLATES
from planner.program import read_program
from planner.report.sheet.making import letter_document, sheet_document, sheet_page
from planner.report.sheet.pictures import SCENES, drawn
from templates.maker.sheet import letter_template, sheet_template
from tests.outside import needs_chromium, needs_office, offices

FACTORS = read_factors()
PROGRAM = read_program(SAMPLE_PROGRAMS / "valdorra" / "program.toml")
LOCALES = ("en_AU", "en_US", "fr_FR", "fr_CA", "es_ES", "es_MX")


def words_in(country_locale):
    council = PROGRAM.council.model_copy(update={"country_locale": country_locale})
    program = PROGRAM.model_copy(update={"council": council})
    return sheet_words(program, FACTORS, program.bin_models[0])


def read(content):
    return Document(io.BytesIO(content))


def text_of(word):
    return "\n".join(one.text or "" for one in word.element.body.iter(qn("w:t")))


@pytest.fixture(scope="module")
def spanish():
    words = words_in("es_ES")
    return words, sheet_document(words)


def test_the_sheet_says_every_text_of_its_language(spanish):
    words, content = spanish
    said = text_of(read(content))
    for section, names in TEXTS.items():
        for name in names:
            assert words.texts[f"{section}_{name}"] in said
    assert PROGRAM.household_help.phone in said
    assert "{{" not in said


def test_every_picture_is_there_and_is_described(spanish):
    words, content = spanish
    described = [one.get("descr") for one in read(content).element.body.iter(qn("wp:docPr"))]
    assert sorted(described) == sorted(words.pictures.values())
    assert set(SCENES) == set(PICTURES)


def test_the_sheet_names_its_language_and_is_the_same_each_time(spanish):
    words, content = spanish
    assert read(content).core_properties.language == "es-ES"
    assert sheet_document(words) == content


@pytest.mark.parametrize("name", PICTURES)
def test_pictures_are_drawings_with_something_on_them_and_the_same_each_time(name):
    svg = drawn(SCENES[name], "svg")
    assert drawn(SCENES[name], "svg") == svg
    assert svg.count(b"<path") >= 5
    # names of namespaces apart, nothing is fetched
    assert not re.search(rb'<image|href="(?!#)', svg)


def test_the_page_needs_nothing_from_outside_and_describes_its_pictures(spanish):
    words, _ = spanish
    page = sheet_page(words)
    assert '<html lang="es-ES">' in page
    assert not re.search(r'(src|href)="(?!data:)', page)
    assert len(re.findall(r'<img src="data:image/svg\+xml;base64,[^"]+" alt="[^"]+">', page)) == 10
    for text in words.texts.values():
        assert text.split("\n")[0].replace("'", "&#39;") in page


def test_shipped_templates_are_those_that_the_code_makes():
    assert (TEMPLATES / "sheet.docx").read_bytes() == sheet_template()
    assert (TEMPLATES / "letter.docx").read_bytes() == letter_template()


@pytest.mark.thorough
def test_a_template_of_the_councils_own_is_taken_and_a_slip_in_it_is_told(tmp_path, spanish):
    words, _ = spanish
    own = Document()
    own.add_paragraph("Ours: {{ setup_title }}")
    own.save(tmp_path / "own.docx")
    assert f"Ours: {words.texts['setup_title']}" in text_of(
        read(sheet_document(words, tmp_path / "own.docx"))
    )
    own.add_paragraph("{{ setup_titel }}")
    own.save(tmp_path / "slip.docx")
    with pytest.raises(ReportError, match=r"'setup_titel'.*setup_title"):
        sheet_document(words, tmp_path / "slip.docx")
    (tmp_path / "no.docx").write_text("text", encoding="utf-8")
    with pytest.raises(ReportError, match="not a Word document"):
        sheet_document(words, tmp_path / "no.docx")


@pytest.mark.thorough
@needs_office
def test_the_sheet_is_two_pages_in_every_language_and_on_either_paper(tmp_path):
    paths = [tmp_path / f"{name}.docx" for name in LOCALES]
    for path, name in zip(paths, LOCALES, strict=True):
        path.write_bytes(sheet_document(words_in(name)))
    pages = {path.stem: _pages(path) for path in offices(paths, tmp_path)}
    assert pages == dict.fromkeys(LOCALES, 2)


def _pages(pdf):
    # a page object names its parent; the tree of pages does not
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf.read_bytes()))


HOUSEHOLDS = pl.DataFrame(
    {
        "household_id": ["H1", "H2", "H3"],
        "area_id": ["N", "S", "N"],
        "area_name": ["North", "South", "North"],
        "fed_kg_last_week": [1.5, None, None],
    }
)
CONTACTS = pl.DataFrame(
    {
        "household_id": ["H1", "H2"],
        "full_name": ["Ana Uno", "Bo Dos"],
        "street_address": ["1 A St", "2 B St"],
        "postcode": ["1", "2"],
        "email": [None, "b@example.org"],
        "phone": [None, None],
    }
)


def register_with(**figures):
    register = FigureRegister("Town", "2026", "1", ())
    for figure_id, (value, low, high) in figures.items():
        name = figure_id.replace("_AREA_N", "[N]").replace("_AREA_S", "[S]")
        register.add(_figure(name, value, low, high))
    return register


def _figure(name, value, low, high):
    from planner.figures import Figure

    return Figure(name, name, value, low, high, "kg", "test")


def test_a_letter_tells_the_areas_result_and_the_towns_where_it_is_hidden():
    words = words_in("en_AU")
    register = register_with(
        kept_out_kg_per_household_AREA_N=(16.9, 11.2, 24.0),
        kept_out_kg_per_household_AREA_S=(None, None, None),
        kept_out_of_landfill_t=(5.3, 4.3, 6.6),
    )
    letters = letters_of(HOUSEHOLDS, CONTACTS, register, words)
    told = dict(letters.select("household_id", "result_words").iter_rows())
    assert set(told) == {"H1", "H2"}, "nobody without an address is written to"
    assert "North" in told["H1"]
    assert "17\xa0kg" in told["H1"]
    assert "South" not in told["H2"]
    assert "5.3\xa0t" in told["H2"]
    assert "4.3\xa0t" in told["H2"]


def test_a_households_own_answer_goes_to_that_household_alone():
    letters = letters_of(HOUSEHOLDS, CONTACTS, None, words_in("en_AU"))
    own = dict(letters.select("household_id", "own_words").iter_rows())
    assert "1.5\xa0kg" in own["H1"]
    assert own["H2"] == ""
    assert letters["result_words"].to_list() == ["", ""]


def test_a_result_that_may_be_nothing_is_not_told():
    register = register_with(
        kept_out_kg_per_household_AREA_N=(0.2, -1.0, 1.0), kept_out_of_landfill_t=(0.1, 0.0, 0.4)
    )
    letters = letters_of(HOUSEHOLDS, CONTACTS, register, words_in("en_AU"))
    assert letters["result_words"].to_list() == ["", ""]


def test_the_letter_holds_a_merge_field_for_each_column_it_uses_and_no_name():
    words = words_in("fr_FR")
    content = letter_document(words)
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        body = archive.read("word/document.xml").decode()
    fields = set(re.findall(r"MERGEFIELD (\w+)", body))
    columns = set(letters_of(HOUSEHOLDS, CONTACTS, None, words).columns)
    assert {"full_name", "own_words", "result_words"} <= fields <= columns
    assert "Bonjour " in text_of(read(content))


@needs_chromium
def test_the_page_fits_a_telephone(tmp_path, spanish):
    from tests.outside import chromium

    words, _ = spanish
    path = tmp_path / "sheet.html"
    wide = "<script>document.title = document.documentElement.scrollWidth</script></body>"
    path.write_text(sheet_page(words).replace("</body>", wide), encoding="utf-8")
    dom, _ = chromium(path, "--window-size=400,900", "--dump-dom")
    # Chromium without a window is never narrower than 500
    assert int(re.search(r"<title>(\d+)", dom)[1]) <= 500
