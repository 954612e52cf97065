"""The household sheet and the letter as Word documents, set into templates of the council's own."""

from __future__ import annotations

import difflib
import io
from typing import TYPE_CHECKING

from docx.oxml.ns import qn
from docx.shared import Cm
from docxtpl import DocxTemplate, InlineImage
from jinja2 import TemplateError

from planner.errors import ReportError
from planner.field.household_sheet import PICTURES
from planner.paths import TEMPLATES
from planner.report.sheet.pictures import SCENES
from planner.report.sheet.strokes import drawn
from planner.report.word.placeholders import check_is_word, environment
from planner.restamping import restamped

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Mapping
    from pathlib import Path

    from docx.document import Document as WordFile

    from planner.field.household_sheet import SheetWords
    from planner.field.thanks import LetterWords

SHEET_TEMPLATE = TEMPLATES / "sheet.docx"
LETTER_TEMPLATE = TEMPLATES / "letter.docx"

WIDTH_CM = {"bin": 3.8, "first": 3.8, "keepout": 3.8, "safe": 3.8}
OTHER_WIDTH_CM = 2.6

LETTER_PAPER = ("US", "CA", "MX", "CL", "CO", "PH")
"""Territories that print on letter paper and not on A4 (CLDR, paper sizes; from memory)."""

LETTER_CM = (21.59, 27.94)


def sheet_document(words: SheetWords, day: dt.datetime, template: Path | None = None) -> bytes:
    """Set the sheet as a Word document.

    Parameters
    ----------
    words
        What it says.
    day
        Stands for the time of writing.
    template
        The council's own .docx; the planner's unless given.

    Raises
    ------
    ReportError
        The template is no Word document, or has a placeholder that is not known.
    """
    opened = _opened(template or SHEET_TEMPLATE)
    pictures = {name: drawn(SCENES[name], "png") for name in PICTURES}
    shown = {f"picture_{name}": _image(opened, name, pictures[name]) for name in PICTURES}
    _filled(opened, {**words.texts, **shown, "council": words.council}, template or SHEET_TEMPLATE)
    _describe(opened.docx, words, pictures)
    return _saved(opened, words, words.texts["sheet_title"], day)


def letter_document(letter: LetterWords, day: dt.datetime) -> bytes:
    """Set the thank-you letter as a Word document with merge fields."""
    opened = _opened(LETTER_TEMPLATE)
    _filled(opened, letter.texts, LETTER_TEMPLATE)
    return _saved(opened, letter.sheet, letter.texts["subject"], day)


def _opened(path: Path) -> DocxTemplate:
    check_is_word(path)
    template = DocxTemplate(path)
    template.init_docx()
    return template


def _image(template: DocxTemplate, name: str, content: bytes) -> InlineImage:
    width = Cm(WIDTH_CM.get(name, OTHER_WIDTH_CM))
    return InlineImage(template, io.BytesIO(content), width=width)


def _describe(word: WordFile, words: SheetWords, pictures: Mapping[str, bytes]) -> None:
    """Say what each of our pictures shows; a council's own keep what they say."""
    said = {content: words.pictures[name] for name, content in pictures.items()}
    for drawing in word.element.body.iter(qn("wp:inline")):
        (place,) = drawing.iter(qn("a:blip"))
        content = word.part.related_parts[place.get(qn("r:embed"))].blob
        if content in said:
            drawing.docPr.set("descr", said[content])


def _filled(template: DocxTemplate, content: Mapping[str, object], path: Path) -> None:
    try:
        names = template.get_undeclared_template_variables(environment())
        unknown = sorted(names - set(content))
        if unknown:
            near = difflib.get_close_matches(unknown[0], content, n=3)
            hint = f"Did you mean {' or '.join(near)}?" if near else "See the planner's template."
            message = f"{path}: found no text {unknown[0]!r} to put there. {hint}"
            raise ReportError(message, path=str(path))
        template.render(dict(content), environment(), autoescape=True)
    except TemplateError as error:
        message = f"{path}: a placeholder cannot be read ({error}). Write {{{{ setup_title }}}}."
        raise ReportError(message, path=str(path)) from error


def _saved(template: DocxTemplate, words: SheetWords, title: str, day: dt.datetime) -> bytes:
    word: WordFile = template.docx
    language = str(words.messages.locale).replace("_", "-")
    properties = word.core_properties
    properties.title, properties.language = title, language
    properties.author = properties.last_modified_by = words.council
    properties.created = properties.modified = day
    properties.revision = 1
    for one in word.styles.element.iter(qn("w:lang")):
        one.set(qn("w:val"), language)
    if words.messages.territory in LETTER_PAPER:
        for page in word.sections:
            page.page_width, page.page_height = (Cm(side) for side in LETTER_CM)
    out = io.BytesIO()
    template.save(out)
    return restamped(out.getvalue(), day)
