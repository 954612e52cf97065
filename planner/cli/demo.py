"""planner demo: run the officer's year on an invented sample program."""

from __future__ import annotations

from itertools import count
from pathlib import Path
from typing import Annotated

import typer

from planner import run
from planner.cli.headlines import print_headlines
from planner.cli.options import command, say
from planner.starting import sample_towns

DEFAULT_TOWN = sample_towns()[0]


def demo(
    folder: Annotated[
        Path | None,
        typer.Argument(
            metavar="[DIR]",
            help="Folder to make; demo-TOWN in the folder you stand in unless said.",
            show_default=False,
        ),
    ] = None,
    *,
    town: Annotated[
        str, typer.Option("--town", help=f"Sample program: {', '.join(sample_towns())}.")
    ] = DEFAULT_TOWN,
) -> None:
    """Run the officer's year on an invented sample program and show its figures."""
    chosen = folder or _free_folder(town)
    result = run.demo(chosen, town, progress=say)
    print_headlines(result)
    first_year = result.program.reporting_years[0].reporting_year
    say(
        f"\nThe council and all its records are invented. Next: open "
        f"{result.files[0]}, then try\n"
        f"  {command('explain', 'kept_out_of_landfill_t', program=chosen)}\n"
        f"  {command('report', '--year', first_year, program=chosen)}\n"
        f"  {command('check', program=chosen)}\n"
        f"  {command('size', program=chosen)}\n"
        f"  {command('new', 'my-program')}"
    )


def _free_folder(town: str) -> Path:
    """Name the first of demo-TOWN, demo-TOWN-2 and so on that is not there."""
    names = (Path(f"demo-{town}" if n == 1 else f"demo-{town}-{n}") for n in count(1))
    return next(path for path in names if not path.exists())
