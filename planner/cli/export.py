"""planner export: write a year's totals for others to add up."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from planner import run
from planner.cli.options import AsOfDay, ProgramFolder, ReportedYear, command, say

Edition = Annotated[
    Literal["ipcc_2006", "ipcc_2019"] | None,
    typer.Option(
        "--edition",
        help="Edition of the emissions method, where all councils are to have the same; that of "
        "the program file unless said.",
        show_default=False,
    ),
]
WarmingPotentials = Annotated[
    Literal["ar4", "ar5", "ar6"] | None,
    typer.Option(
        "--gwp-set",
        help="Warming potentials, likewise.",
        show_default=False,
    ),
]


def chosen_method(edition: str | None, gwp_set: str | None) -> dict[str, str]:
    """Name what was chosen of the method; nothing where the program file's is to stay."""
    chosen = {"edition": edition, "gwp_set": gwp_set}
    return {key: value for key, value in chosen.items() if value is not None}


def export(
    program: ProgramFolder = Path(),
    *,
    year: ReportedYear = None,
    as_of: AsOfDay = None,
    edition: Edition = None,
    gwp_set: WarmingPotentials = None,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            metavar="FILE",
            help="File to write; one in the folder exports/ of the program unless said.",
            show_default=False,
        ),
    ] = None,
) -> None:
    """Write a year's totals for a state report: no household, area or month is in it."""
    day = as_of.date() if as_of else None
    method = chosen_method(edition, gwp_set)
    made, path = run.export(program, year, as_of=day, method=method, target=out, progress=say)
    typer.echo(path)
    say(
        f"It holds {len(made.totals)} totals and {len(made.rates)} rates of "
        f"{made.about.reporting_year}, each with its draws. No household, area or month is in it."
    )
    say("Next: send it to whoever puts the councils together. They run")
    say(f"  {command('pool', path)}")
