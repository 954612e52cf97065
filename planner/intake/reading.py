"""Read the officer's files: rows that can be taken in, and every cell that cannot."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import polars as pl

from planner.errors import IntakeError
from planner.intake.cells import country, days_named
from planner.intake.confirming import with_doubtful, with_readings
from planner.intake.contracts import (
    SHIFTED,
    check_contract,
    check_links,
    resolve_repeats,
    with_unread,
)
from planner.intake.control import control_totals
from planner.intake.headings import find_all_headings
from planner.intake.problems import no_problems
from planner.intake.rows import Context, Rows, read_rows
from planner.intake.sheets import GUIDING_SHEETS, HEAD_ROWS, content_mark, read_sheets
from planner.intake.vocabulary import SHEET_SIGN, vocabulary
from planner.intake.words import with_names
from planner.messages import in_english, say, set_language
from planner.program.giveaway import label_start
from planner.progress import Progress, no_progress
from planner.shells import shell_command
from planner.tables import ALIKE_AND_TWO, HELD_ROUND, MADE_KEYS, TABLES, made_key

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from planner.intake.control import ControlTotal
    from planner.intake.readings import Proposal
    from planner.intake.sheets import Sheet
    from planner.program import Program


SHOWN_HEADINGS = 15
"""Headings of a sheet that are named where none of them is known."""

SHOWN_LETTERS = 60
"""Letters of each that are named."""


ROUND, DAY, ROUNDS = "wave_id", "answer_date", "waves"
LATE_DAYS = 60
"""Days after a round's end within which answers still come in (common practice, no source)."""


@dataclass(frozen=True)
class FileIntake:
    """What one file holds."""

    # name of the file; mark of its content
    file: str
    sha256: str
    sheets: tuple[Rows, ...]
    notes: tuple[str, ...]
    totals: tuple[ControlTotal, ...] = ()  # rows of totals against the lines that they add up

    def proposals(self) -> list[Proposal]:
        """Doubtful ways of reading that the officer has not confirmed."""
        return [proposal for rows in self.sheets for proposal in rows.proposals]

    def problems(self) -> pl.DataFrame:
        """Every cell that stops its row, in the order of sheets, rows and columns."""
        found = (rows.problems.sort("row_number", maintain_order=True) for rows in self.sheets)
        return pl.concat([no_problems(), *found])


def read_files(
    paths: Sequence[Path],
    program: Program,
    known: Callable[[str], pl.DataFrame],
    progress: Progress = no_progress,
    loaded_on: dt.date | None = None,
    accepted: frozenset[str] = frozenset(),
) -> tuple[FileIntake, ...]:
    """Read files and check every row, across all of them and against the store.

    Parameters
    ----------
    known
        Keys that the store holds, and the names of the records, by table.
    loaded_on
        Day of loading: records of a later day are refused. None asks nothing of days.
    accepted
        Doubtful ways of reading that the officer has confirmed, as ``costs.amount.brackets``.

    Returns
    -------
    tuple of FileIntake
        In the order of the paths. Every row below the headings is in `Rows.good`, has a
        problem, or is counted as repeated or skipped.

    Raises
    ------
    IntakeError
        A file cannot be read, holds no records, or lacks columns; the message tells
        every such case of all files.
    ProgramError
        The program file maps a heading or word to what there is not.
    """
    context = context_of(program, loaded_on, accepted)
    read, failures = [], []
    for path in paths:
        progress(say("reading_files.progress", file=path.name))
        try:
            read.append(_read_file(path, context))
        except IntakeError as error:
            failures.append(error)
    if failures:
        message = "\n".join(dict.fromkeys(str(error) for error in failures))
        raise IntakeError(message, path=failures[0].path, row=failures[0].row)
    return _checked(read, known)


def _read_file(path: Path, context: Context) -> FileIntake:
    sheets, notes = read_sheets(path)
    found, failures = [], []
    for sheet in sheets:
        try:
            several = find_all_headings(sheet, context.vocabulary)
        except IntakeError as error:
            failures.append(error)
            continue
        found += [with_readings(read_rows(sheet, one, context)) for one in several]
        if not several and sheet.name not in GUIDING_SHEETS:
            notes.append(say("reading_files.no_headings", place=sheet.place))
    command = shell_command(["planner", "look", str(path)])
    if failures:
        advice = say("reading_files.look", command=command)
        message = "\n".join([*(str(error) for error in failures), advice])
        raise IntakeError(message, path=str(path), row=failures[0].row)
    if not found:
        message = say(
            "reading_files.no_records",
            file=path.name,
            found=_found_headings(sheets),
            command=command,
            tables=", ".join(TABLES),
        )
        raise IntakeError(message, path=str(path))
    notes += [note for rows in found for note in rows.notes]
    return FileIntake(path.name, content_mark(path), tuple(found), tuple(notes))


def _found_headings(sheets: list[Sheet]) -> str:
    """Name what stands where headings may be: the fullest of the first rows of each sheet."""
    found = []
    for sheet in sheets:
        head = sheet.cells.filter(pl.col("row_number") <= HEAD_ROWS).drop("row_number")
        rows = [[cell for cell in row if cell is not None] for row in head.iter_rows()]
        fullest = max(rows, key=len, default=[])
        if fullest:
            listed = ", ".join(text[:SHOWN_LETTERS] for text in fullest[:SHOWN_HEADINGS])
            found.append(say("reading_files.found", place=sheet.place, headings=listed))
    return "".join(found)


def _checked(
    read: list[FileIntake], known: Callable[[str], pl.DataFrame]
) -> tuple[FileIntake, ...]:
    """Check table by table in the order of references, so the order of files is free."""
    taken: dict[str, list[Rows]] = {}
    checked: list[list[Rows]] = [[] for _ in read]

    def there(table: str) -> list[pl.DataFrame]:
        return [known(table), *(rows.good() for rows in taken.get(table, []))]

    for table in TABLES:
        for number, file in enumerate(read):
            sheets = [rows for rows in file.sheets if rows.table == table]
            if not sheets:
                continue
            named = [_with_fitting_round(with_names(rows, there), there) for rows in sheets]
            keyed = [with_unread(_with_made_key(_with_held_days(rows))) for rows in named]
            for rows in resolve_repeats(keyed):
                linked = check_links(check_contract(rows), taken, known)
                done = _with_one_fault_when_moved(linked)
                taken.setdefault(table, []).append(done)
                checked[number].append(done)
    return tuple(
        _with_totals(file, tuple(sheets)) for file, sheets in zip(read, checked, strict=True)
    )


def _with_fitting_round(rows: Rows, there: Callable[[str], list[pl.DataFrame]]) -> Rows:
    """Ask for the round of a sheet whose answers are not of the days of the remembered one.

    The program file names a round by file and sheet; a file of the same name comes the next year.
    """
    held = rows.headings.held.get(ROUND)
    if held is None or DAY not in rows.written:
        return rows
    names = (ROUND, "opens_date", "closes_date")
    days = rows.typed.select("row_number", ROUND, DAY).drop_nulls()
    rounds = (
        frame.filter(pl.col(ROUND) == days[ROUND][0]).select(names)
        for frame in reversed(there(ROUNDS) if days.height else [])
        if {*names} <= {*frame.columns}
    )
    of_round = next((one for one in rounds if one.height), None)
    if of_round is None:
        return rows
    _, opens, closes = of_round.row(0)
    other = ~days[DAY].is_between(opens, closes + dt.timedelta(days=LATE_DAYS))
    if other.sum() * 2 <= days.height:
        return rows
    values = days.select("row_number", pl.col(ROUND).alias("value"))
    return with_doubtful(rows, ROUND, values, HELD_ROUND, _advice(rows, opens, closes))


def _advice(rows: Rows, opens: dt.date, closes: dt.date) -> str:
    """Say what to write where a sheet holds a new round, or the remembered one after all."""
    key = f"{rows.source.address}{SHEET_SIGN} {ROUND}"
    command = ["planner", "look", rows.file, "--every-row", f"{key}={say('reading.new_round')}"]
    told = {"command": shell_command(command), "name": f"{rows.table}.{ROUND}.{HELD_ROUND}"}
    return say("reading.other_round", opens=opens, closes=closes, **told)


def _with_held_days(rows: Rows) -> Rows:
    """Ask whether the day that the program file gives a sheet is still its day a year later.

    It is asked for once a later day that the sheet's name may mean has come.
    """
    country, years, today = rows.context.country, rows.context.years, rows.context.loaded_on
    days, _ = days_named(rows.source.label, country, years)
    for column in rows.headings.held:
        if rows.typed.schema[column] == pl.Date and rows.typed.height:
            held = rows.typed[column][0]
            if any(held < day <= (today or day) for day in days):
                same = rows.typed.select("row_number", pl.col(column).alias("value"))
                rows = with_doubtful(rows, column, same, "held_day")
    return rows


def _with_made_key(rows: Rows) -> Rows:
    """Give each row of a sheet without a key one of its own, the same whenever it is loaded.

    Rows that say the same have the same key, but for the lines of a ledger, which are counted.
    """
    key = made_key(rows.table, rows.written)
    if key is None:
        return rows
    parts = MADE_KEYS[rows.table]
    texts = [pl.col(name).cast(pl.String).str.strip_suffix(".0") for name in parts]
    made = pl.concat_str(texts, separator="-")
    if rows.table in ALIKE_AND_TWO:
        place = pl.int_range(1, pl.len() + 1).over(parts)
        made = pl.when(place > 1).then(pl.format("{}-{}", made, place)).otherwise(made)
    # a row that lacks one of them is refused for that, and is no other row's repeat
    nameless = pl.format("row-{}", "row_number")
    typed = rows.typed.with_columns(pl.coalesce(made, nameless).alias(key))
    return replace(rows, typed=typed, filled=(*rows.filled, key))


def _with_one_fault_when_moved(rows: Rows) -> Rows:
    """Keep one problem for a row whose cells have moved: what they say is no other fault."""
    is_shift = pl.col("reason") == in_english(SHIFTED)
    moved = rows.problems.filter(is_shift).select("row_number")
    others = rows.problems.filter(~is_shift).join(moved, on="row_number", how="anti")
    return replace(rows, problems=pl.concat([others, rows.problems.filter(is_shift)]))


def _with_totals(file: FileIntake, sheets: tuple[Rows, ...]) -> FileIntake:
    """Set the totals that sheets state against their lines, once these are checked."""
    totals = tuple(total for rows in sheets for total in control_totals(rows))
    compared = {say("passed.total", place=one.rows.source.row(one.row_number)) for one in totals}
    notes = [note for note in file.notes if note not in compared]
    notes += [total.in_words() for total in totals]
    return FileIntake(file.file, file.sha256, sheets, tuple(notes), totals)


def context_of(
    program: Program, loaded_on: dt.date | None, accepted: frozenset[str] = frozenset()
) -> Context:
    """Gather what reading needs to know of a program, and speak its council's language.

    Raises
    ------
    ProgramError
        The program file maps a heading or word to what there is not.
    """
    council = program.council
    set_language(council.country_locale)
    return Context(
        country=country(council.country_locale),
        currency=council.currency,
        models={model.model_id: model.model_name for model in program.bin_models},
        species=tuple(program.ordering.species),
        vocabulary=vocabulary(program),
        loaded_on=loaded_on,
        years=_years(program),
        accepted=accepted,
    )


def _years(program: Program) -> tuple[dt.date, dt.date]:
    """First and last day of the reporting years."""
    first_month = program.council.reporting_year_first_month
    starts = [label_start(year.reporting_year) or 0 for year in program.reporting_years]
    begins = dt.date(min(starts), first_month, 1)
    ends = dt.date(max(starts) + 1, first_month, 1) - dt.timedelta(days=1)
    return begins, ends
