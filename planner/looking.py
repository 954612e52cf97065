"""Looking at files of unknown make: what they hold is guessed, asked, and written down."""

from __future__ import annotations

import io
import itertools
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import dataframely as dy
import polars as pl

from planner.errors import IntakeError, ProgramError
from planner.intake.cells import parsed
from planner.intake.guessing import SheetGuess, guess_sheet
from planner.intake.likeness import are_marks
from planner.intake.meaning import folded, folded_text, meaning
from planner.intake.questions import Answers, Asker
from planner.intake.reading import context_of
from planner.intake.sheets import GUIDING_SHEETS, read_sheets
from planner.intake.template import write_intake_workbook
from planner.intake.vocabulary import FILLED_BY_HAND
from planner.intake.words import keys_by_fold
from planner.messages import say
from planner.paths import PROGRAM_FILE, STORE_FILE
from planner.program import read_program
from planner.program.settings import Words, with_words
from planner.store.files import disk_faults, fault_of, write_whole
from planner.store.opening import open_store
from planner.tables import CALLED_BY_KEY, NAMES, TABLES, codes, references
from planner.vetting.settings import read_settings

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Mapping, Sequence

    from planner.intake.questions import Question
    from planner.intake.rows import Context
    from planner.intake.sheets import Sheet


MOST_RECORDS = 60
"""Above so many names a column is taken for another one, wrongly guessed."""


def _missing_records(
    guesses: Iterable[SheetGuess],
    known: Mapping[str, pl.DataFrame],
    context: Context,
    settled: Mapping[str, Collection[str]],
) -> dict[str, pl.DataFrame]:
    """Collect the records of short tables that rows name and that are nowhere to be found.

    They have the table's types; what the rows do not tell is null, for the officer to fill in.
    `settled` are, by column, folded words that stand for known records.
    """
    found: dict[str, list[pl.DataFrame]] = {}
    for guess in guesses:
        for column, target in references(guess.table).items() if guess.table else ():
            if target not in FILLED_BY_HAND or column not in {*guess.cells, *guess.held}:
                continue
            rows = _named_rows(guess, column, context)
            there = known[target]["fold"] if target in known else pl.Series("fold", [], pl.String)
            others = [*there, *settled.get(column, ())]
            lacking = rows.filter(~folded_text(pl.col("key")).is_in(others))
            if lacking.height:
                found.setdefault(target, []).append(lacking)
    joined = {table: _one_each(table, pl.concat(rows)) for table, rows in found.items()}
    return {table: rows for table, rows in joined.items() if rows.height <= MOST_RECORDS}


def _named_rows(guess: SheetGuess, column: str, context: Context) -> pl.DataFrame:
    """Give the key each row names, its day, and whether it tells of the time before a bin."""
    table, cells = guess.table or "", guess.cells
    text = guess.records().select(
        *(pl.col(cells[name]).alias(name) for name in cells),
        *(pl.lit(value).alias(name) for name, value in guess.held.items() if name not in cells),
    )
    contract = TABLES[table].columns()
    # a day that every row has: that of stopping is not that of the answer
    days = [
        name
        for name, declared in contract.items()
        if name in {*cells, *guess.held} and isinstance(declared, dy.Date) and not declared.nullable
    ]
    day = (
        parsed(table, days[0], context.country, has_number_cells=guess.sheet.has_number_cells)
        if days
        else pl.lit(None, dtype=pl.Date)
    )
    before = [pl.col(name).is_not_null() for name in cells if name.startswith("prior_")]
    # later rounds may ask for both
    after = [pl.col(name).is_not_null() for name in cells if name == "is_in_use"]
    return text.select(
        pl.col(column).str.strip_chars().alias("key"),
        day.alias("day"),
        (
            pl.any_horizontal(*before, pl.lit(value=False))
            & ~pl.any_horizontal(*after, pl.lit(value=False))
        ).alias("is_of_before"),
    ).drop_nulls("key")


def _one_each(table: str, rows: pl.DataFrame) -> pl.DataFrame:
    """Make one record of all rows that name it."""
    contract = TABLES[table]
    grouped = rows.group_by(folded_text(pl.col("key")).alias("fold"), maintain_order=True).agg(
        pl.col("key").first(),
        pl.col("day").min().alias("first_day"),
        pl.col("day").max().alias("last_day"),
        pl.col("is_of_before").mean().alias("share_of_before"),
    )
    told = {contract.primary_key()[0]: pl.col("key")}
    if table in CALLED_BY_KEY:
        told[NAMES[table]] = pl.col("key")
    if table == "waves":
        told["opens_date"], told["closes_date"] = pl.col("first_day"), pl.col("last_day")
        baseline, follow_up = codes("waves", "wave_kind")
        is_before = pl.col("share_of_before").fill_null(0.0) > 0.5
        told["wave_kind"] = pl.when(is_before).then(pl.lit(baseline)).otherwise(pl.lit(follow_up))
        grouped = grouped.sort("first_day", maintain_order=True, nulls_last=True)
    return grouped.select(
        told.get(name, pl.lit(None)).cast(declared.dtype, strict=False).alias(name)
        for name, declared in contract.columns().items()
    )


MISSING_FILE = "records_to_complete.xlsx"


@dataclass(frozen=True)
class LookResult:
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
) -> LookResult:
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
    asker = Asker(answers, ask, context, _known(folder))
    sheets, notes = _read_all(files)
    guesses = [guess_sheet(sheet, context, asker.known) for sheet in sheets]
    asker.known = _with_keys_of(asker.known, guesses)
    guesses = [part for guess in guesses for part in asker.settled(guess)]
    known = asker.known = _with_keys_of(asker.known, guesses)
    columns: Words = {}
    for guess in guesses:
        if guess.table is not None:
            columns.setdefault(guess.table, {}).update(_new_headings(guess, context))
    synonyms = asker.settled_words(guesses)
    words = {
        "columns": columns,
        "synonyms": synonyms,
        "every_row": asker.every_row,
        "same_sheet": asker.same_sheet,
    }
    if keep and any(meanings for part in words.values() for meanings in part.values()):
        path = folder / PROGRAM_FILE
        _write(path, with_words(path.read_text(encoding="utf-8"), words).encode())
    missing = _missing_records(guesses, known, context, _asked_for(synonyms, asker))
    missing_file = _waiting(folder, missing) if missing else None
    if missing and missing_file is None:
        # what an officer has filled in is never written over
        path = folder / MISSING_FILE
        numbered = (path.with_stem(f"{path.stem}_{number}") for number in itertools.count(2))
        names = itertools.chain([path], numbered)
        missing_file = next(one for one in names if not one.exists())
        if keep:
            write_intake_workbook(book := io.BytesIO(), program, missing)
            _write(missing_file, book.getvalue())
    aside = [note for guess in guesses for note in _beside(guess, context, known)]
    aside += [note for guess in guesses for note in _marked(guess, context)]
    notes = [*notes, *aside, *asker.notes, *asker.unasked()]
    return LookResult(tuple(guesses), tuple(notes), words, tuple(asker.open), missing, missing_file)


def _beside(guess: SheetGuess, context: Context, known: Mapping[str, pl.DataFrame]) -> list[str]:
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


def _marked(guess: SheetGuess, context: Context) -> list[str]:
    """Say which columns mark some rows and are not read: the others are taken in as well."""
    place, below = guess.sheet.place, guess.records()
    told = [(one.heading, below[one.cell]) for one in guess.columns if not one.column]
    return [
        say("look.marked", cells.count(), place=place, heading=heading, rows=below.height)
        for heading, cells in told
        if guess.table and cells.null_count() and are_marks(cells, context)
    ]


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
    known: Mapping[str, pl.DataFrame], guesses: list[SheetGuess]
) -> dict[str, pl.DataFrame]:
    """Add the keys and names on the sheets themselves."""
    more = dict(known)
    for guess in guesses:
        named = guess.cells
        key = TABLES[guess.table].primary_key()[0] if guess.table else ""
        if guess.table and key in named:
            wanted = [name for name in (key, NAMES.get(guess.table)) if name in named]
            there = guess.records().select(pl.col(named[name]).alias(name) for name in wanted)
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


def _new_headings(guess: SheetGuess, context: Context) -> dict[str, str]:
    """List the headings whose column neither their own name nor the program file tells."""
    table = guess.table or ""
    council_words = context.vocabulary.columns_of(table)
    said = {one: meaning(table, one.heading, council_words) for one in guess.columns}
    return {
        one.heading: one.column
        for one, known in said.items()
        if one.column and (known is None or known.column != one.column)
    }


def _write(path: Path, content: bytes) -> None:
    with disk_faults(path, "look.not_written", ProgramError):
        write_whole(path, content)
