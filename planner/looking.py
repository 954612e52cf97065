"""Looking at files of unknown make: what they hold is guessed, asked, and written down."""

from __future__ import annotations

import io
import itertools
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl

from planner.errors import IntakeError, ProgramError
from planner.intake.guessing import SheetGuess, guess_sheet
from planner.intake.meaning import folded, meaning
from planner.intake.missing import missing_records
from planner.intake.questions import Answers, Asker
from planner.intake.reading import context_of
from planner.intake.sheets import GUIDING_SHEETS, read_sheets
from planner.intake.template import write_intake_workbook
from planner.intake.words import keys_by_fold
from planner.messages import say
from planner.paths import PROGRAM_FILE, STORE_FILE
from planner.program import read_program
from planner.program.settings import Words, with_words
from planner.store import open_store
from planner.store.files import disk_faults, fault_of, write_whole
from planner.tables import NAMES, TABLES
from planner.vetting.settings import read_settings

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from planner.intake.questions import Question
    from planner.intake.rows import Context
    from planner.intake.sheets import Sheet
    from planner.program import Program

MISSING_FILE = "records_to_complete.xlsx"


@dataclass(frozen=True)
class Looked:
    """What was found in the files."""

    sheets: tuple[SheetGuess, ...]
    notes: tuple[str, ...]
    words: dict[str, Words]  # for each part of program.toml, what is not in it yet
    # questions that nobody answered; what they ask for is not written
    open_questions: tuple[Question, ...]
    # for each short table, records that the rows name and no sheet lists, as far as known
    missing: dict[str, pl.DataFrame]
    # workbook in which they wait for the officer to complete them; None where none lack
    missing_file: Path | None


def read_answers(path: Path) -> Answers:
    """Read answers from a file: tables, columns, words, every_row, each a part of a TOML file.

    Raises
    ------
    IntakeError
        The file is not there or not so written.
    """
    try:
        parts = read_settings(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise fault_of(path, "look.no_answers", IntakeError, why=str(error)) from None
    unknown = set(parts) - {"tables", "columns", "words", "every_row"}
    flat = all(
        isinstance(part, dict) and all(isinstance(answer, str) for answer in part.values())
        for part in parts.values()
    )
    if unknown or not flat:
        found = ", ".join(sorted(unknown)) or say("look.no_text")
        raise fault_of(path, "look.other_answers", IntakeError, found=found)
    return Answers(**parts)


def look_at_files(
    folder: Path,
    files: Sequence[Path],
    answers: Answers,
    ask: Callable[[Question], str | None],
    *,
    keep: bool,
) -> Looked:
    """Guess what files hold, ask where that is unsure, write the words into program.toml.

    Parameters
    ----------
    answers, ask
        Answers given beforehand; who is asked for the others, None leaves a question open.

    Raises
    ------
    ProgramError, IntakeError, StoreError
        The program file, a file or the store cannot be read; nothing is written.
    """
    program = read_program(folder / PROGRAM_FILE)
    context = context_of(program, loaded_on=None)
    asker = Asker(answers, ask)
    known = _known(folder)
    sheets, notes = _read_all(files)
    guesses = [guess_sheet(sheet, context, known) for sheet in sheets]
    known = _with_keys_of(known, guesses)
    guesses = [part for guess in guesses for part in asker.settled(guess, context, known)]
    known = _with_keys_of(known, guesses)
    columns: Words = {}
    for guess in guesses:
        if guess.table is not None:
            columns.setdefault(guess.table, {}).update(_new_headings(guess, context))
    synonyms = asker.settled_words(guesses, context, known)
    words = {
        "columns": columns,
        "synonyms": synonyms,
        "every_row": asker.every_row,
        "same_sheet": asker.same_sheet,
    }
    if keep and any(meanings for part in words.values() for meanings in part.values()):
        path = folder / PROGRAM_FILE
        _write(path, with_words(path.read_text(encoding="utf-8"), words).encode())
    missing = missing_records(guesses, known, context, _asked_for(synonyms, asker))
    missing_file = _waiting(folder, missing) if missing else None
    if missing and missing_file is None:
        missing_file = _free_name(folder / MISSING_FILE)
        if keep:
            _write_missing(missing_file, program, missing)
    aside = [note for guess in guesses for note in _beside(guess, context, known)]
    notes = [*notes, *aside, *asker.notes, *asker.unasked()]
    return Looked(tuple(guesses), tuple(notes), words, tuple(asker.open), missing, missing_file)


def _beside(guess: SheetGuess, context: Context, known: dict[str, pl.DataFrame]) -> list[str]:
    """Say that another table stands to the right of one, after a column that is empty."""
    cells = guess.sheet.cells.drop("row_number")
    taken = [place for place, one in enumerate(guess.columns) if one.column]
    last = cells.columns.index(guess.columns[max(taken)].cell) if taken else cells.width
    empty = [name for name in cells.columns[last:] if cells[name].null_count() == cells.height]
    right = cells.columns[cells.columns.index(empty[0]) + 1 :] if empty else []
    if len(right) <= 1:
        return []
    part = guess.sheet.cells.select("row_number", *right)
    other = guess_sheet(replace(guess.sheet, label="", cells=part), context, known)
    if other.table in (None, guess.table) or not other.is_sure:
        return []
    headings = ", ".join(one.heading for one in other.columns)
    told = {"place": guess.sheet.place, "table": str(other.table), "headings": headings}
    return [say("look.beside", **told)]


def _asked_for(synonyms: Words, asker: Asker) -> dict[str, set[str]]:
    """List by column the words that stand for a known record, or may: that is still open."""
    found = {column: {folded(word) for word in words} for column, words in synonyms.items()}
    for question in asker.open:
        if question.kind == "word":
            found.setdefault(question.within, set()).add(folded(question.about))
    return found


def _read_all(files: Sequence[Path]) -> tuple[list[Sheet], list[str]]:
    sheets: list[Sheet] = []
    notes: list[str] = []
    for path in files:
        found, noted = read_sheets(path)
        sheets += [one for one in found if one.name not in GUIDING_SHEETS and one.cells.height]
        notes += noted
    return sheets, notes


def _known(folder: Path) -> dict[str, pl.DataFrame]:
    """Keys and names that the store holds, as they are looked up."""
    if not (folder / STORE_FILE).exists():
        return {}
    with open_store(folder, read_only=True) as store:
        return {table: keys_by_fold(table, [store.keys_and_names(table)]) for table in TABLES}


def _with_keys_of(
    known: dict[str, pl.DataFrame], guesses: list[SheetGuess]
) -> dict[str, pl.DataFrame]:
    """Add the keys and names on the sheets themselves."""
    more = dict(known)
    for guess in guesses:
        if guess.table is None:
            continue
        below = guess.records()
        named = {one.column: one.cell for one in guess.columns if one.column}
        key = TABLES[guess.table].primary_key()[0]
        if key in named:
            wanted = [name for name in (key, NAMES.get(guess.table)) if name in named]
            there = below.select(pl.col(named[name]).alias(name) for name in wanted)
            keys = keys_by_fold(guess.table, [there])
            earlier = more.get(guess.table, keys.clear())
            more[guess.table] = pl.concat([earlier, keys]).unique()
    return more


def _waiting(folder: Path, missing: dict[str, pl.DataFrame]) -> Path | None:
    """Find the workbook of an earlier look that holds these records, perhaps filled in by now."""
    wanted = {(table, folded(key)) for table, rows in missing.items() for key in rows.to_series(0)}
    for path in sorted(folder.glob(f"{Path(MISSING_FILE).stem}*.xlsx")):
        sheets, _ = read_sheets(path)
        held = {
            (one.label, folded(text))
            for one in sheets
            for text in one.cells.select(pl.exclude("row_number")).to_series(0).drop_nulls()
        }
        if wanted <= held:
            return path
    return None


def _write_missing(path: Path, program: Program, missing: dict[str, pl.DataFrame]) -> None:
    book = io.BytesIO()
    write_intake_workbook(book, program, missing)
    _write(path, book.getvalue())


def _free_name(path: Path) -> Path:
    """Give a name that no file has yet: what an officer has filled in is never written over."""
    numbered = (path.with_stem(f"{path.stem}_{number}") for number in itertools.count(2))
    return next(one for one in itertools.chain([path], numbered) if not one.exists())


def _new_headings(guess: SheetGuess, context: Context) -> dict[str, str]:
    """List the headings whose column neither their own name nor the program file tells."""
    table = guess.table or ""
    council_words = context.vocabulary.columns_of(table)
    new = {}
    for one in guess.columns:
        said = meaning(table, one.heading, council_words)
        if one.column is not None and (said is None or said.column != one.column):
            new[one.heading] = one.column
    return new


def _write(path: Path, content: bytes) -> None:
    with disk_faults(path, "look.not_written", ProgramError):
        write_whole(path, content)
