"""Papers in French and Spanish: no English is left in them, and they tell the same figures."""

from __future__ import annotations

import dataclasses
import io
import re

import docx
import pytest

from planner.figures import FigureRegister
from planner.messages import write_papers_in
from planner.report.charts import drawings_of
from planner.report.document import Paragraph, Picture, Shown, Table
from planner.report.document.building import SECTION_KEYS, build_document
from planner.report.page import write_page
from planner.report.word.writing import write_word
from tests.unit.report import fuller

ENGLISH = re.compile(
    r"\b(?:the|of|and|with|from|which|that|this|were|was|is|are|each|by|not|out|kept|so|in the)\b",
    re.I,
)
"""Frequent words of English that neither French nor Spanish has."""

CITED = ("factors", "records", "standards")
"""Appendices of publications and files, which keep their titles."""


def contents(language):
    """Take what a report says, with labels, methods and names that are of no language."""
    made = fuller.register()
    plain = FigureRegister(made.council, made.reporting_year, made.version)
    for figure in made:
        plain.add(dataclasses.replace(figure, label="…", method="…"))
    found = fuller.contents(made=plain)
    council = found.program.council.model_copy(
        update={"report_language": language, "country_locale": "en_GB"}
    )
    ways = tuple(one.model_copy(update={"source": "…"}) for one in found.program.other_ways)
    program = found.program.model_copy(update={"council": council, "other_ways": ways})
    return dataclasses.replace(found, program=program, charts=())


@pytest.fixture
def written_in():
    """Build the document of a language, and forget the language afterwards."""

    def build(language):
        write_papers_in("en_GB", language)
        return build_document(contents(language))

    yield build
    write_papers_in("en", "en")


def parts_of(document):
    """List sections and those inside them, without what is cited."""
    waiting = [one for one in document.sections if one.key not in CITED]
    while waiting:
        section = waiting.pop(0)
        yield section
        waiting += [one for one in section.parts if one.key not in CITED]


def words_of(section):
    yield section.heading
    for block in section.blocks:
        if isinstance(block, Paragraph):
            yield block.words
        elif isinstance(block, Table):
            yield from (block.caption, block.note, *(one.heading for one in block.columns))
            yield from (cell.words for row in block.rows for cell in row)
        elif isinstance(block, Picture):
            yield from (block.title, block.caption, block.alt_text)


def english_in(text):
    names = rf"{fuller.DEAR}|{fuller.CHEAP}|=?Mill Lane|`[^`]*`"
    return ENGLISH.findall(re.sub(names, "", text))


@pytest.mark.parametrize("language", ["fr", "es"])
def test_no_english_is_left_in_a_report(written_in, language):
    document = written_in(language)
    words = [text for section in parts_of(document) for text in words_of(section)]
    assert len(words) > 200
    assert [text for text in words if english_in(text)] == []
    assert english_in(f"{document.title} {document.subtitle}") == []


@pytest.mark.parametrize("language", ["fr", "es"])
def test_no_english_is_left_on_the_page_nor_in_the_word_document(written_in, language, tmp_path):
    document = written_in(language)
    main = tuple(one for one in document.sections if one.key not in ("factors", "records"))
    document = dataclasses.replace(
        document, sections=tuple(one for one in main if one.key != "method")
    )
    write_page(tmp_path / "page.html", document)
    page = (tmp_path / "page.html").read_text("utf-8")
    assert f'<html lang="{language}">' in page
    words = re.sub(r"<style>.*?</style>|<script>.*?</script>", "", page, flags=re.S)
    told = re.findall(r'(?:aria-label|data-\w+)="([^"]*)"', words)
    assert english_in(re.sub(r"<[^>]+>", " ", words)) == []
    assert english_in(" ".join(told)) == []
    write_word(tmp_path / "paper.docx", document, contents(language).register)
    word = docx.Document(io.BytesIO((tmp_path / "paper.docx").read_bytes()))
    footer = word.sections[0].footer.paragraphs[0].text
    assert english_in(" ".join([footer, *(one.text for one in word.paragraphs)])) == []
    assert word.core_properties.language == language


def shown_in(document):
    """Ids of the figures that are printed, in order, with what is shown of each."""
    found = []
    for section in document.sections:
        for block in (*section.blocks, *(b for part in section.parts for b in part.blocks)):
            statements = block.statements if isinstance(block, Paragraph) else ()
            if isinstance(block, Table):
                statements = [cell for row in block.rows for cell in row]
            found += [
                part.figure_id
                for one in statements
                for part in one.parts
                if isinstance(part, Shown)
            ]
    return found


def test_every_language_tells_the_same_figures(written_in):
    english, french, spanish = (shown_in(written_in(one)) for one in ("en", "fr", "es"))
    assert len(english) > 100
    # languages may order the figures of a sentence as they like
    assert sorted(english) == sorted(french) == sorted(spanish)


@pytest.mark.parametrize("language", ["fr", "es"])
def test_no_english_is_left_in_a_chart(written_in, language):
    document, made = written_in(language), contents(language)
    assert document.sections[0].key == SECTION_KEYS[0]
    drawn = drawings_of(
        made.register, made.saying.wording, 8.0, made.area_names, None, (5.0, 26.0) * 6
    )
    assert len(drawn) > 6
    for drawing in drawn:
        text = " ".join((drawing.title, drawing.caption, drawing.alt_text))
        assert english_in(text) == [], drawing.name
