"""A year's totals for others to add up, and many councils in one report."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Annotated, Literal

import typer

from planner import run
from planner.cli.options import (
    AsOfDay,
    ProgramFolder,
    ReportedYear,
    command,
    print_table,
    show,
)
from planner.cli.options import say as tell
from planner.messages import FIRST_LANGUAGE, messages_for, say, speak

Edition = Annotated[
    Literal["ipcc_2006", "ipcc_2019"] | None,
    typer.Option(
        "--edition",
        help="usage.option.edition",
        show_default=False,
    ),
]
WarmingPotentials = Annotated[
    Literal["ar4", "ar5", "ar6"] | None,
    typer.Option(
        "--gwp-set",
        help="usage.option.warming_potentials",
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
            help="usage.export.out",
            show_default=False,
        ),
    ] = None,
) -> None:
    """Write a year's totals for a state report: no household, area or month is in it."""
    day = as_of.date() if as_of else None
    method = chosen_method(edition, gwp_set)
    made, path = run.export(program, year, as_of=day, method=method, target=out, progress=tell)
    typer.echo(path)
    counts = {"totals": len(made.totals), "rates": len(made.rates)}
    tell(say("pooled.holds", year=made.about.reporting_year, **counts))
    tell(say("pooled.send"))
    tell(f"  {command('pool', path)}")


SHOWN = (
    "bins_given",
    "bins_in_use",
    "kept_out_of_landfill_t",
    "emissions_avoided_100_years_t_co2e",
    "program_cost",
    "cost_per_kept_out_t",
)


def pool(
    places: Annotated[
        list[str],
        typer.Argument(
            metavar="PLACE...",
            help="usage.pool.places",
        ),
    ],
    *,
    title: Annotated[
        str, typer.Option("--title", help="usage.pool.title", show_default=False)
    ] = "",
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="usage.pool.out")] = Path(
        "pool"
    ),
    year: ReportedYear = None,
    currency: Annotated[
        str,
        typer.Option("--currency", help="usage.pool.currency"),
    ] = "",
    rate: Annotated[
        list[str] | None,
        typer.Option(
            "--rate",
            metavar="EUR=1.65",
            help="usage.pool.rate",
            show_default=False,
        ),
    ] = None,
    any_year: Annotated[
        bool,
        typer.Option("--any-year", help="usage.pool.any_year"),
    ] = False,
    edition: Edition = None,
    gwp_set: WarmingPotentials = None,
    processes: Annotated[
        int | None,
        typer.Option(
            "--at-once",
            min=1,
            help="usage.pool.processes",
            show_default=False,
        ),
    ] = None,
    scheduler: Annotated[
        str,
        typer.Option(
            "--scheduler",
            metavar="ADDRESS",
            help="usage.pool.scheduler",
            show_default=False,
        ),
    ] = "",
    language: Annotated[
        str, typer.Option("--language", metavar="CODE", help="usage.pool.language")
    ] = FIRST_LANGUAGE,
) -> None:
    """Put many councils together: totals, who differs, and what a new council can expect."""
    from planner.pooling.pool import PoolAsked

    speak(messages_for(FIRST_LANGUAGE, language).language)
    asked = PoolAsked(
        title or say("pooled.all_councils"),
        year,
        currency,
        _rates(rate or []),
        any_year,
        chosen_method(edition, gwp_set),
        processes,
        scheduler,
        language,
    )
    now = dt.datetime.now(dt.UTC).replace(microsecond=0, tzinfo=None)
    _print(run.pool(places, out, asked, day=now, progress=tell))


def _rates(given: list[str]) -> dict[str, float]:
    rates = {}
    for words in given:
        name, _, number = words.partition("=")
        try:
            rates[name.strip()] = float(number)
        except ValueError:
            rates[name.strip()] = 0.0
        if not rates[name.strip()] > 0.0:
            raise typer.BadParameter(say("pooled.fail.rate", found=words))
    return rates


def _print(result: run.PoolResult) -> None:
    from rich.table import Table

    from planner.report.wording import Wording

    made = result.pool
    wording = Wording(made.country_locale, made.currency, made.language)
    table = Table(title=f"{made.title}, {made.label}", box=None, pad_edge=False)
    table.add_column(say("book.figure"))
    table.add_column(say("book.value"), justify="right")
    table.add_column(say("pooled.column.interval"), justify="right")
    for name in SHOWN:
        figure = result.register.find(name)
        if figure is not None:
            table.add_row(figure.label, wording.amount(figure), wording.spread(figure))
    print_table(table)
    for name, why in made.missing.items():
        show(say("pooled.left_out", name=name, why=why))
    show(f"\n{say('console.files')}")
    for path in result.files:
        typer.echo(f"  {path}")
    tell(f"\n{say('pooled.next')}")
