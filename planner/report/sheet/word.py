"""The household sheet and the letter as Word documents, set into templates of the council's own."""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import TYPE_CHECKING

from docx.oxml.ns import qn
from docx.shared import Cm
from docxtpl import InlineImage

from planner.errors import ReportError
from planner.field.household_sheet import PICTURES
from planner.messages import did_you_mean, say
from planner.paths import TEMPLATES
from planner.report.sheet.pictures import SCENES
from planner.report.sheet.strokes import drawn
from planner.report.word.placeholders import (
    environment,
    filling_faults,
    open_word,
    save_word,
    template_fault,
)
from planner.store.files import fault_of
from planner.vetting.guard import guarded

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from docx.document import Document as WordFile
    from docxtpl import DocxTemplate

    from planner.field.household_sheet import LetterWords, SheetWords

SHEET_TEMPLATE = TEMPLATES / "sheet.docx"
LETTER_TEMPLATE = TEMPLATES / "letter.docx"

WIDTH_CM = {"bin": 3.8, "first": 3.8, "keepout": 3.8, "safe": 3.8}
OTHER_WIDTH_CM = 2.6

LETTER_PAPER = ("US", "CA", "MX", "CL", "CO", "PH")
"""Territories that print on letter paper and not on A4 (CLDR, paper sizes; from memory)."""

LETTER_CM = (21.59, 27.94)


@dataclass(frozen=True)
class Filling:
    """What a template is filled with, plain enough to be handed to another process."""

    texts: dict[str, str]
    # for each of our pictures its PNG, and what it shows
    pictures: dict[str, bytes]
    shown: dict[str, str]
    # what the file says of itself
    title: str
    council: str
    language: str
    is_on_letter_paper: bool  # whether the council's country prints on it
    day: dt.datetime  # stands for the time of writing


def sheet_document(words: SheetWords, day: dt.datetime, template: Path | None = None) -> bytes:
    """Set the sheet as a Word document; the day stands for the time of writing.

    A council's own template is filled in a process with limits.

    Raises
    ------
    ReportError
        The template is no Word document, or has a placeholder that is not known.
    """
    pictures = {name: drawn(SCENES[name], "png") for name in PICTURES}
    texts = {**words.texts, "council": words.council}
    filling = _filling(words, texts, words.texts["sheet_title"], day, pictures)
    if template is None:
        (content,) = filled(SHEET_TEMPLATE, filling)
        return content
    if not template.is_file():
        raise fault_of(template, "file.no_template", ReportError)
    (content,) = guarded(template, filled, (template, filling), template_fault(template))
    return content


def letter_document(letter: LetterWords, day: dt.datetime) -> bytes:
    """Set the thank-you letter as a Word document with merge fields."""
    filling = _filling(letter.sheet, letter.texts, letter.texts["subject"], day, {})
    (content,) = filled(LETTER_TEMPLATE, filling)
    return content


def _filling(
    words: SheetWords,
    texts: dict[str, str],
    title: str,
    day: dt.datetime,
    pictures: dict[str, bytes],
) -> Filling:
    return Filling(
        texts,
        pictures,
        words.pictures,
        title,
        words.council,
        str(words.messages.locale).replace("_", "-"),
        words.messages.territory in LETTER_PAPER,
        day,
    )


def filled(path: Path, filling: Filling) -> Iterator[bytes]:
    """Fill a template and yield the document.

    Raises
    ------
    ReportError
        It is no Word document, or has a placeholder that is not known.
    """
    template = open_word(path)
    images = {
        f"picture_{name}": InlineImage(
            template, io.BytesIO(content), width=Cm(WIDTH_CM.get(name, OTHER_WIDTH_CM))
        )
        for name, content in filling.pictures.items()
    }
    _fill(template, {**filling.texts, **images}, path)
    _describe(template.docx, filling)
    if filling.is_on_letter_paper:
        for page in template.docx.sections:
            page.page_width, page.page_height = (Cm(side) for side in LETTER_CM)
    told = (filling.title, filling.council, filling.language, filling.day)
    yield save_word(template, *told, subject="")


def _describe(word: WordFile, filling: Filling) -> None:
    """Say what each of our pictures shows; a council's own keep what they say."""
    said = {content: filling.shown[name] for name, content in filling.pictures.items()}
    for drawing in word.element.body.iter(qn("wp:inline")):
        (place,) = drawing.iter(qn("a:blip"))
        content = word.part.related_parts[place.get(qn("r:embed"))].blob
        if content in said:
            drawing.docPr.set("descr", said[content])


def _fill(template: DocxTemplate, content: Mapping[str, object], path: Path) -> None:
    with filling_faults(path, "template.unread", mark="{{ setup_title }}"):
        names = template.get_undeclared_template_variables(environment())
        unknown = sorted(names - set(content))
        if unknown:
            hint = did_you_mean(unknown[0], content, most=3) or say("template.see_ours")
            raise fault_of(path, "template.no_text", ReportError, name=unknown[0], hint=hint)
        template.render(dict(content), environment(), autoescape=True)
