"""The start of a program folder: empty, or a copy of an invented sample."""

from __future__ import annotations

import datetime as dt
import io
import itertools
from typing import TYPE_CHECKING

from planner.errors import IntakeError, ProgramError
from planner.messages import say
from planner.paths import (
    CONTACTS_FILE,
    INTAKE_FILE,
    PROGRAM_FILE,
    SAMPLE_PROGRAMS,
    STORE_FILE,
    TEMPLATES,
)
from planner.progress import Progress, no_progress

if TYPE_CHECKING:
    from pathlib import Path

    from planner.intake.sheets import Sheet
    from planner.program import FirstAnswers, Program


def start_program(
    folder: Path,
    answers: FirstAnswers | None = None,
    *,
    force: bool = False,
    day: dt.date | None = None,
    progress: Progress = no_progress,
) -> tuple[Path, ...]:
    """Start a program folder: its program file, an empty intake workbook and a key file.

    Parameters
    ----------
    day
        Day by which a filled workbook that is there is named when it is kept aside.

    Returns
    -------
    tuple of Path
        What was written.

    Raises
    ------
    ProgramError
        The folder holds a program or an intake workbook already, or cannot be written; an
        answer cannot stand in the program file.
    """
    from planner.intake.template import write_intake_workbook
    from planner.program import FirstAnswers, read_program
    from planner.store.files import disk_faults, write_whole
    from planner.store.keys import make_key

    program_file, intake_file = folder / PROGRAM_FILE, folder / INTAKE_FILE
    there = [path for path in (program_file, intake_file) if path.exists()]
    if there and not force:
        names = {"intake": INTAKE_FILE, "program": PROGRAM_FILE}
        message = say("begin.there", path=str(there[0]), **names)
        raise ProgramError(message, path=str(there[0]))
    with disk_faults(folder, "file.name_folder", ProgramError):
        folder.mkdir(parents=True, exist_ok=True)
        if not program_file.exists():
            _begin_program_file(program_file, answers or FirstAnswers())
        program = read_program(program_file)
        kept = keep_filled_workbook(intake_file, day)
        if kept is not None:
            progress(say("begin.kept", intake=INTAKE_FILE, kept=str(kept)))
        book = io.BytesIO()
        write_intake_workbook(book, program)
        write_whole(intake_file, book.getvalue())
        if not any((folder / name).exists() for name in (STORE_FILE, CONTACTS_FILE)):
            make_key(folder)
    return (intake_file,) if program_file in there else (program_file, intake_file)


def _begin_program_file(path: Path, answers: FirstAnswers) -> None:
    """Write the first program file; none where an answer cannot stand in it."""
    from planner.program import read_program
    from planner.program.settings import with_answers
    from planner.store.files import write_whole

    text = (TEMPLATES / PROGRAM_FILE).read_text(encoding="utf-8")
    write_whole(path, with_answers(text, answers).encode())
    try:
        read_program(path)
    except ProgramError:
        path.unlink()
        raise


def copy_sample(folder: Path, town: str, *, progress: Progress) -> list[Path]:
    """Copy a sample's program file and spreadsheets out, and return the spreadsheets.

    Raises
    ------
    ProgramError
        There is no such sample, or the folder holds something.
    """
    from planner.store.files import disk_faults, write_whole

    sample = SAMPLE_PROGRAMS / town
    if not (sample / PROGRAM_FILE).is_file():
        known = ", ".join(sample_towns())
        raise ProgramError(say("begin.no_sample", town=town, known=known))
    if folder.exists() and any(folder.iterdir()):
        message = say("begin.holds_files", path=str(folder))
        raise ProgramError(message, path=str(folder))
    progress(say("begin.copying", town=town, folder=str(folder)))
    spreadsheets = sorted(path for path in sample.iterdir() if path.suffix in (".xlsx", ".csv"))
    with disk_faults(folder, "file.name_folder", ProgramError):
        folder.mkdir(parents=True, exist_ok=True)
        for path in (sample / PROGRAM_FILE, *sample.glob("*.geojson"), *spreadsheets):
            write_whole(folder / path.name, path.read_bytes())
    return [folder / path.name for path in spreadsheets]


def sample_towns() -> tuple[str, ...]:
    """Names of the sample programs."""
    return tuple(sorted(path.parent.name for path in SAMPLE_PROGRAMS.glob(f"*/{PROGRAM_FILE}")))


def last_day_of_records(program: Program) -> dt.date:
    """Last day of a sample program: that of its last reporting year, on which it is loaded."""
    ends = [program.months(year.reporting_year)[1] for year in program.reporting_years]
    return max(ends) - dt.timedelta(days=1)


def keep_filled_workbook(path: Path, day: dt.date | None) -> Path | None:
    """Rename a workbook that holds any row beyond the examples.

    Returns
    -------
    Path or None
        Where it is kept; None where there is none, or nothing in it.
    """
    if not path.exists() or not _is_filled(path):
        return None
    stem = f"{path.stem}-before-{day}" if day else f"{path.stem}-before"
    names = (
        path.with_name(f"{stem}{'' if n == 1 else f'-{n}'}{path.suffix}")
        for n in itertools.count(1)
    )
    kept = next(name for name in names if not name.exists())
    path.rename(kept)
    return kept


def _is_filled(path: Path) -> bool:
    """Tell whether anything was typed in; what cannot be read may hold anything."""
    from planner.intake.sheets import read_sheets

    try:
        sheets, notes = read_sheets(path)
        return bool(notes) or any(_holds_rows(sheet) for sheet in sheets)
    except IntakeError:
        return True


def _holds_rows(sheet: Sheet) -> bool:
    import polars as pl

    from planner.intake.headings import find_headings
    from planner.intake.layout import pass_over
    from planner.intake.sheets import GUIDING_SHEETS
    from planner.intake.vocabulary import Vocabulary

    if sheet.name in GUIDING_SHEETS:
        return False
    headings = find_headings(sheet, Vocabulary({}, {}))
    if headings is None:
        return sheet.cells.height > 0
    below = sheet.cells[headings.row_number :]
    filled = below.filter(pl.any_horizontal(pl.exclude("row_number").is_not_null())).height
    return filled > pass_over(sheet, headings, below).example_count
