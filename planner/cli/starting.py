"""The first commands: start a program folder, see the year on an invented one, read the guide."""

from __future__ import annotations

import datetime as dt
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner import run
from planner.cli.options import Force, ReportedYear, advise, command, print_note
from planner.cli.reporting import print_headlines
from planner.messages import say
from planner.paths import EXPORT_FOLDER, INTAKE_FILE, POOL_FOLDER, PROGRAM_FILE, SAMPLE_PROGRAMS
from planner.starting import last_day_of_records, sample_towns, start_program

if TYPE_CHECKING:
    from planner.program import Program


def new(
    folder: Annotated[Path, typer.Argument(metavar="DIR")],
    *,
    name: Annotated[str | None, typer.Option(metavar="TEXT")] = None,
    country: Annotated[str | None, typer.Option(metavar="LANGUAGE_COUNTRY")] = None,
    currency: Annotated[str | None, typer.Option(metavar="CODE")] = None,
    year: ReportedYear = None,
    first_month: Annotated[int | None, typer.Option(min=1, max=12)] = None,
    force: Force = False,
) -> None:
    """Start a program folder with a program file, an empty intake workbook and a key file."""
    from planner.program import FirstAnswers
    from planner.store.keys import key_warning

    answers = FirstAnswers(name, country, currency, year, first_month)
    written = start_program(folder, answers, force=force, day=dt.date.today(), progress=print_note)
    for path in written:
        typer.echo(str(path))
    print_note(key_warning(folder))
    intake = folder / INTAKE_FILE
    if not force:
        print_note(say("begin.first", file=str(folder / PROGRAM_FILE)))
        print_note(f"  {command('new', folder, '--force')}")
    advise(say("begin.next", file=str(intake)), "load", intake, program=folder)


DAYS_BACK = dt.timedelta(days=150)
"""So long before its last record the newest year still ran."""

DEFAULT_TOWN = sample_towns()[0]


def demo(
    folder: Annotated[Path | None, typer.Argument(metavar="DIR")] = None,
    *,
    town: str = DEFAULT_TOWN,
) -> None:
    """Run the officer's year on an invented sample program and show its figures."""
    chosen = folder or _free_folder(town)
    result = run.demo(chosen, town, progress=print_note)
    print_headlines(result)
    print_note("\n" + say("begin.invented", file=str(result.files[0])))
    for line in _next_lines(result.program, chosen):
        print_note(f"  {line}")


def _next_lines(program: Program, folder: Path) -> list[str]:
    """Write a line for each use of the tool, dated to the end of the invented records."""
    last = last_day_of_records(program)
    day, middle = str(last), str(last - DAYS_BACK)
    a_round = ("sample", "NEXT", "--kind", "followup", "--response", "0.6", "--opens", day)
    uses: list[tuple[str, ...]] = [
        ("explain", "kept_out_of_landfill_t"),
        ("report", "--year", program.reporting_years[0].reporting_year),
        ("evidence", "my-evidence"),
        ("issue", "--date", day),
        ("figure", "kept_out_of_landfill_t"),
        ("progress", "--as-of", middle),
        ("check",),
        ("loads",),
        ("duplicates",),
        a_round,
        ("size",),
        ("order", "--from", day),
        ("due",),
        ("events", "--from", day),
        ("sheet",),
        ("followup",),
        ("cases",),
        ("sites",),
        ("workshops",),
        ("feed", "vegetable_scraps=1.2"),
        ("export",),
        ("key",),
        ("factors", "landfill"),
        ("backup",),
    ]
    if program.funders:
        uses.insert(-2, ("acquit", program.funders[0].grant_reference))
    if program.nursery is not None:
        uses.insert(-2, ("nursery", "--from", day))
    if program.delivery is not None:
        uses.insert(-2, ("routes",))
    return [
        *(command(*use, program=folder) for use in uses),
        command("pool", folder / EXPORT_FOLDER, "--out", folder / POOL_FOLDER),
        command("new", "my-program"),
        command("guide"),
    ]


CHANGES = (
    ("look", Path("waiting_list.xlsx"), "--dry-run"),
    ("load", Path("buying.xlsx"), "--dry-run"),
    ("undo", "L0006", "--dry-run"),
    ("withdraw", "handovers", "PM-B00001", "--dry-run"),
    ("erase", "PM-00001", "--dry-run"),
    ("restore", "--dry-run"),
    ("retain", "--dry-run"),
)
"""What needs a file or a record of the first sample program; paths lie in its folder."""


def guide(
    file: Annotated[Path, typer.Argument(metavar="FILE")] = Path("guide.html"),
    *,
    force: Force = False,
) -> None:
    """Write the guide: the year with an example of each command, and how figures are computed."""
    from planner.report.page import write_guide

    write_guide(file, _examples(), force=force)
    typer.echo(str(file))
    advise(say("begin.guide"), "demo")


def _examples() -> dict[str, str]:
    """Give an example for each command, on the folder that a demo makes where one stands."""
    from planner.program import read_program

    folder = Path(f"demo-{DEFAULT_TOWN}")
    program = read_program(SAMPLE_PROGRAMS / DEFAULT_TOWN / PROGRAM_FILE)
    changes = (
        [folder / word if isinstance(word, Path) else word for word in words] for words in CHANGES
    )
    lines = [
        command("demo"),
        *_next_lines(program, folder),
        *(command(*words, program=folder) for words in changes),
    ]
    return {line.split()[1]: line for line in lines}


def _free_folder(town: str) -> Path:
    """Name the first of demo-TOWN, demo-TOWN-2 and so on that is not there."""
    names = (Path(f"demo-{town}" if n == 1 else f"demo-{town}-{n}") for n in count(1))
    return next(path for path in names if not path.exists())
