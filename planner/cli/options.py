"""What commands share: options, lines to the officer, and errors as exit code 2."""

from __future__ import annotations

import datetime as dt
import re
import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from planner.errors import escaped
from planner.messages import in_words, officer_messages, say
from planner.ordering.request import DAYS_AHEAD
from planner.paths import PROGRAM_FILE
from planner.shells import shell_command

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from rich.table import Column, Table

    from planner.report.wording import Wording

WIDTH = 80
"""Columns of a page of text, where the output goes to a file or to another program."""

GAP = 2
"""Columns between two of a table."""

_FULL_PATH = re.compile(r"(^|[ '])(/|[A-Za-z]:\\)[^ ]")
_WORD = re.compile(r"( *)([^ `]*`[^`]*`[^ ]*|[^ ]+)")
"""Spaces and the word after them; a command between backticks is one, so that it can be pasted."""


def wording_of(program: Path) -> Wording:
    """Find how the council of a program folder writes numbers, days and money."""
    from planner.program import open_program
    from planner.report.wording import Wording

    return Wording.for_officer(open_program(program / PROGRAM_FILE))


def _spoken_for(context: typer.Context, folder: Path) -> Path:
    """Speak the language of the program's council from the first line that a command prints."""
    if not context.resilient_parsing:  # a shell that completes a line asks for no words
        from planner import run

        run.set_language_for(folder)
    return folder


ProgramFolder = Annotated[
    Path, typer.Option("--program", metavar="DIR", callback=_spoken_for, show_default=False)
]
ReportedYear = Annotated[str | None, typer.Option("--year", metavar="YEAR")]
Edition = Literal["ipcc_2006", "ipcc_2019"]
WarmingPotentials = Literal["ar4", "ar5", "ar6"]
_ISO_DAY = ["%Y-%m-%d"]
NamedDay = Annotated[dt.datetime | None, typer.Option(metavar="DAY", formats=_ISO_DAY)]
Day = Annotated[dt.datetime | None, typer.Option(metavar="YYYY-MM-DD", formats=_ISO_DAY)]
FromDay = Annotated[
    dt.datetime | None, typer.Option("--from", metavar="YYYY-MM-DD", formats=_ISO_DAY)
]
File = Annotated[Path | None, typer.Option(metavar="FILE")]
Files = Annotated[list[Path], typer.Argument(metavar="FILES")]
DryRun = Annotated[bool, typer.Option("--dry-run")]
Force = Annotated[bool, typer.Option("--force")]
"""Options of several commands; `helping` finds the help of each by the command and the option."""


def date_of(day: dt.datetime | None) -> dt.date | None:
    """Take the day of a moment; None where none was given."""
    return day.date() if day else None


def day_asked(day: dt.datetime | None) -> dt.date:
    """Take the day that is asked for, or today."""
    return date_of(day) or dt.datetime.now().astimezone().date()


def asked_days(from_day: dt.datetime | None, until: dt.datetime | None) -> tuple[dt.date, dt.date]:
    """Work out the first day and the last hand-over day that are asked for."""
    first = day_asked(from_day)
    return first, date_of(until) or first + dt.timedelta(days=DAYS_AHEAD)


def columns() -> int:
    """Count the columns that there are to print in."""
    return shutil.get_terminal_size().columns if sys.stdout.isatty() else WIDTH


def folded(text: str, width: int) -> str:
    """Fold lines between words; a command to paste stays in one piece, and so does a full path.

    Examples
    --------
    >>> print(folded("  Note: worms come late, so order them now.", 24))
      Note: worms come late,
        so order them now.
    """
    return "\n".join(_folded_line(line, width) for line in text.split("\n"))


def _folded_line(line: str, width: int) -> str:
    bare = line.lstrip()
    # a path with blanks in it could not be put together again
    if len(line) <= width or bare.startswith("planner ") or _FULL_PATH.search(line):
        return line
    indent = " " * (len(line) - len(bare))
    rows = [indent]
    # the spaces before a word are kept, so that what stands in columns still does
    for gap, word in _WORD.findall(bare):
        if rows[-1].strip() and len(rows[-1]) + len(gap) + len(word) > width:
            rows.append(f"{indent}  {word}")
        else:
            rows[-1] += gap + word
    return "\n".join(rows)


def from_here(path: Path) -> Path:
    """Shorten the path of what lies in the folder one stands in."""
    return path.relative_to(Path.cwd()) if path.is_relative_to(Path.cwd()) else path


def show(text: object = "") -> None:
    """Print a result."""
    words = in_words(text, officer_messages()) if isinstance(text, str) else str(text)
    typer.echo(folded(words, columns()))


def print_note(text: str) -> None:
    """Tell progress, a note or the next step, apart from results."""
    typer.echo(folded(escaped(text), columns()), err=True)


def advise(words: str, *line: str | Path, program: Path | None = None) -> None:
    """Tell what to do next, with the command for it on a line of its own."""
    print_note(f"{words}\n  {command(*line, program=program)}")


def show_notes(notes: Iterable[str], how: Callable[[str], None] = show) -> None:
    """Print notes on a result, or tell them apart from it."""
    for note in notes:
        how(say("console.note", note=note))


def list_files(files: Iterable[Path]) -> None:
    """Print the files that a command wrote."""
    show(f"\n{say('console.files')}")
    for path in files:
        typer.echo(f"  {path}")


def start_table(
    texts: Sequence[str], numbers: Sequence[str] = (), *, title: str = "", pad_edge: bool = False
) -> Table:
    """Begin a table by the headings of its columns of text and, after them, of numbers."""
    from rich.table import Table

    table = Table(title=title or None, box=None, pad_edge=pad_edge)
    for heading in texts:
        table.add_column(heading)
    for heading in numbers:
        table.add_column(heading, justify="right")
    return table


WHOLE_AMOUNT = 17
"""Columns up to which a cell of numbers is kept on one line while a sentence can fold."""


def print_table(table: Table, spare: str = "") -> None:
    """Print a table in the columns that there are: sentences fold, ids and numbers do not.

    Parameters
    ----------
    table
        Its columns that are aligned right hold numbers.
    spare
        Heading of the column to leave out where the table would have to break a word.
    """
    from rich.console import Console

    room = columns()
    if sum(_narrowest(column) + GAP for column in table.columns) > room:
        table.columns = [column for column in table.columns if column.header != spare]
    widths = [_narrowest(column) for column in table.columns]
    left = room - sum(widths) - GAP * len(widths)
    if left < 0:  # a name folds before a number does
        texts = [place for place, column in enumerate(table.columns) if column.justify != "right"]
        widths[max(texts, key=widths.__getitem__)] += left
    lacks = [_widest(column) - width for column, width in zip(table.columns, widths, strict=True)]
    for place, column in enumerate(table.columns):
        # a sentence reads well on two lines, an amount with its interval does not
        if column.justify == "right" and left > 0:
            given = max(0, min(lacks[place], left, WHOLE_AMOUNT - widths[place]))
            widths[place], lacks[place], left = (
                widths[place] + given,
                lacks[place] - given,
                left - given,
            )
    for _ in range(left):
        # the column that folds most gets the next character
        neediest = lacks.index(max(lacks))
        if lacks[neediest] > 0:
            widths[neediest] += 1
            lacks[neediest] -= 1
    for column, width in zip(table.columns, widths, strict=True):
        column.width, column.ratio, column.overflow = width, None, "fold"
    Console(width=room, markup=False, highlight=False).print(table)


def _widest(column: Column) -> int:
    """Columns that the longest cell takes on one line."""
    cells = (str(cell) for cell in (column.header, *column.cells))
    return max(len(line) for cell in cells for line in cell.split("\n"))


def _narrowest(column: Column) -> int:
    """Columns without which a word would break."""
    if column.no_wrap:
        return _widest(column)
    cells = " ".join(str(cell) for cell in (column.header, *column.cells))
    # a number with the sign between its thousands, or with its unit, is one word
    return max(map(len, re.split(r"[ \n]+", cells)), default=1)


def command(*words: str | Path, program: Path | None = None) -> str:
    """Write a command that can be pasted as it stands.

    Parameters
    ----------
    words
        The command, its options and files, without ``planner``.
    program
        Program folder that the command was given; left out where one stands in it.

    Examples
    --------
    >>> command("load", Path("my files/intake.xlsx"), program=Path("worms 2026"))
    "planner load 'my files/intake.xlsx' --program 'worms 2026'"
    >>> command("report", program=Path())
    'planner report'
    """
    given = [] if program is None or program == Path() else ["--program", program]
    return shell_command(["planner", *(str(word) for word in (*words, *given))])
