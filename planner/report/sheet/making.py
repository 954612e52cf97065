"""Write the household sheets, and the letters with the workbook that they are merged from."""

from __future__ import annotations

import base64
import datetime as dt
import io
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl
from docx.oxml.ns import qn
from docx.shared import Cm
from docxtpl import InlineImage

from planner.errors import ReportError
from planner.factors import FactorTable
from planner.field.household_sheet import (
    PICTURES,
    TEXTS,
    SheetWords,
    letter_words,
    letters_of,
    sheet_words,
)
from planner.figures import register_in
from planner.messages import did_you_mean, officer_messages, say
from planner.paths import (
    FIGURES_FILE,
    FOLDER_OF_ITS_OWNER,
    OWNER_ONLY,
    PRIVATE_FOLDER,
    REPORT_FOLDER,
    TEMPLATES,
)
from planner.program import BinModel, Program
from planner.report.page import filled_page
from planner.report.sheet import SheetRequest
from planner.report.sheet.pictures import SCENES, drawn
from planner.report.word.placeholders import (
    environment,
    filling_faults,
    open_word,
    save_word,
    template_fault,
)
from planner.store.files import disk_faults, fault_of, refuse_there, write_whole
from planner.store.opening import open_store
from planner.vetting.guard import guarded
from planner.workbooks import records_workbook, workbook_bytes

if TYPE_CHECKING:
    from docx.document import Document as WordFile
    from docxtpl import DocxTemplate


WRITTEN_AT = dt.datetime(2026, 1, 1)
"""Stands in the files for the time of writing: the same words give the same file."""


@dataclass(frozen=True)
class Sheets:
    """What was written."""

    files: tuple[Path, ...]
    private_file: Path | None  # workbook with names for the letters; None where none was asked for
    # households in it, and those of them whose letter tells a result
    letters_count: int
    results_count: int
    notes: tuple[str, ...]


def write_sheets(
    folder: Path, program: Program, factors: FactorTable, asked: SheetRequest
) -> Sheets:
    """Write the sheet as Word document and page, and the letters where they are asked for."""
    words = sheet_words(program, factors, _model(program, asked.model_id), asked.language)
    language = words.messages.language
    stem = folder / "sheets" / f"worm-bin-{language}"
    content = {
        stem.with_suffix(".docx"): sheet_document(words, asked.template),
        stem.with_suffix(".html"): f"{sheet_page(words)}\n".encode(),
    }
    merged, private = None, folder / PRIVATE_FOLDER / "thank-you-letters.xlsx"
    if asked.letters:
        # letters go out long after the sheet, which stays as it is
        content = {path: text for path, text in content.items() if asked.force or not path.exists()}
        letter = stem.with_name(f"thank-you-letter-{language}.docx")
        content[letter] = letter_document(words)
        merged = _letters(folder, words)
    files = (*content, *([private] if asked.letters else []))
    refuse_there(files, "file.there_add_force", ReportError, forced=asked.force)
    _write(content, 0o644)
    if merged is None:
        return Sheets(tuple(content), None, 0, 0, _notes(program, words))
    book = workbook_bytes(
        records_workbook({"letters": merged}, note=say("sheets.merge_note")), WRITTEN_AT
    )
    _write({private: book}, OWNER_ONLY)
    with_result_count = merged.filter(merged["result_words"] != "").height
    return Sheets(tuple(content), private, merged.height, with_result_count, _notes(program, words))


def _model(program: Program, model_id: str | None) -> BinModel:
    models = {model.model_id: model for model in program.bin_models}
    if model_id is not None and model_id not in models:
        raise ReportError(say("fed.no_model", model=model_id, known=", ".join(models)))
    return models[model_id] if model_id else program.bin_models[0]


def _letters(folder: Path, words: SheetWords) -> pl.DataFrame:
    with open_store(folder, read_only=True) as store:
        households = store.query("households_to_thank")
        contacts = store.records("contacts")
    register = register_in(folder / REPORT_FOLDER / FIGURES_FILE)
    return letters_of(households, contacts, register, words)


def _notes(program: Program, words: SheetWords) -> tuple[str, ...]:
    notes = []
    own = program.council.country_locale
    if not own.startswith(words.messages.language):
        language = words.messages.locale.get_display_name(officer_messages().locale) or ""
        notes.append(say("sheets.language", language=language, own=own))
    if not any(program.household_help.model_dump().values()):
        notes.append(say("sheets.whom_to_call"))
    return tuple(notes)


def _write(content: dict[Path, bytes], mode: int) -> None:
    for path, text in content.items():
        own = FOLDER_OF_ITS_OWNER if mode == OWNER_ONLY else 0o755
        with disk_faults(path, "file.close", ReportError):
            path.parent.mkdir(mode=own, exist_ok=True)
            write_whole(path, text, mode=mode)


PAGE = TEMPLATES / "sheet.html"
CARDS = ("setup", "first", "greens", "browns", "keepout", "trays", "harvest", "use", "season")
TROUBLES = tuple(section for section, names in TEXTS.items() if names == ("sign", "do"))


def sheet_page(words: SheetWords) -> str:
    """Set the sheet as a page with its pictures inside."""
    svg = {name: base64.b64encode(drawn(SCENES[name], "svg")).decode("ascii") for name in PICTURES}
    return filled_page(
        PAGE,
        say=words.texts,
        pictures=words.pictures,
        svg=svg,
        council=words.council,
        language=str(words.messages.locale).replace("_", "-"),
        cards=[(name, TEXTS[name][1:]) for name in CARDS],
        troubles=TROUBLES,
        safe=TEXTS["safe"][1:],
    )


SHEET_TEMPLATE = TEMPLATES / "sheet.docx"
LETTER_TEMPLATE = TEMPLATES / "letter.docx"

WIDTH_CM = {"bin": 3.8, "first": 3.8, "keepout": 3.8, "safe": 3.8}

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


def sheet_document(words: SheetWords, template: Path | None = None) -> bytes:
    """Set the sheet as a Word document.

    A council's own template is filled in a process with limits.

    Raises
    ------
    ReportError
        The template is no Word document, or has a placeholder that is not known.
    """
    pictures = {name: drawn(SCENES[name], "png") for name in PICTURES}
    texts = {**words.texts, "council": words.council}
    filling = _filling(words, texts, words.texts["sheet_title"], pictures)
    if template is None:
        (content,) = filled(SHEET_TEMPLATE, filling)
        return content
    if not template.is_file():
        raise fault_of(template, "file.no_template", ReportError)
    (content,) = guarded(template, filled, (template, filling), template_fault(template))
    return content


def letter_document(words: SheetWords) -> bytes:
    """Set the thank-you letter as a Word document with merge fields."""
    texts = letter_words(words)
    filling = _filling(words, texts, texts["subject"], {})
    (content,) = filled(LETTER_TEMPLATE, filling)
    return content


def _filling(
    words: SheetWords, texts: dict[str, str], title: str, pictures: dict[str, bytes]
) -> Filling:
    language = str(words.messages.locale).replace("_", "-")
    is_letter = words.messages.territory in LETTER_PAPER
    return Filling(texts, pictures, words.pictures, title, words.council, language, is_letter)


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
            template, io.BytesIO(content), width=Cm(WIDTH_CM.get(name, 2.6))
        )
        for name, content in filling.pictures.items()
    }
    _fill(template, {**filling.texts, **images}, path)
    _describe(template.docx, filling)
    if filling.is_on_letter_paper:
        for page in template.docx.sections:
            page.page_width, page.page_height = (Cm(side) for side in LETTER_CM)
    told = (filling.title, filling.council, filling.language)
    yield save_word(template, *told, WRITTEN_AT, subject="")


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
