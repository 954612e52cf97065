"""A year's totals for others to add up, and many councils in one report."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner.cli.helping import help_language
from planner.cli.options import (
    Edition,
    File,
    NamedDay,
    ProgramFolder,
    ReportedYear,
    WarmingPotentials,
    advise,
    date_of,
    list_files,
    print_note,
    print_table,
    show,
    start_table,
)
from planner.messages import FIRST_LANGUAGE, messages_for, say, set_language

if TYPE_CHECKING:
    from planner.pooling.writing import PoolResult


def chosen_method(edition: str | None, gwp_set: str | None) -> dict[str, str]:
    """Name what was chosen of the method; nothing where the program file's is to stay."""
    chosen = {"edition": edition, "gwp_set": gwp_set}
    return {key: value for key, value in chosen.items() if value is not None}


def export(
    program: ProgramFolder = Path(),
    *,
    year: ReportedYear = None,
    as_of: NamedDay = None,
    edition: Edition | None = None,
    gwp_set: WarmingPotentials | None = None,
    out: File = None,
) -> None:
    """Write a year's totals for a state report: no household, area or month is in it."""
    from planner.pooling.exporting import give_out_export

    day, method = date_of(as_of), chosen_method(edition, gwp_set)
    made, path = give_out_export(program, year, day, method, out, print_note)
    typer.echo(path)
    counts = {"totals": len(made.totals), "rates": len(made.rates)}
    print_note(say("pooled.holds", year=made.about.reporting_year, **counts))
    advise(say("pooled.send"), "pool", path)


SHOWN = (
    "bins_given",
    "bins_in_use",
    "kept_out_of_landfill_t",
    "emissions_avoided_100_years_t_co2e",
    "program_cost",
    "cost_per_kept_out_t",
)


def pool(
    places: Annotated[list[str], typer.Argument(metavar="PLACE")],
    *,
    title: Annotated[str, typer.Option(show_default=False)] = "",
    out: Annotated[Path, typer.Option(metavar="DIR")] = Path("pool"),
    year: ReportedYear = None,
    currency: str = "",
    rate: Annotated[list[str] | None, typer.Option(metavar="EUR=1.65")] = None,
    any_year: Annotated[bool, typer.Option("--any-year")] = False,
    edition: Edition | None = None,
    gwp_set: WarmingPotentials | None = None,
    processes: Annotated[int | None, typer.Option("--at-once", min=1)] = None,
    scheduler: Annotated[str, typer.Option(metavar="ADDRESS", show_default=False)] = "",
    language: Annotated[str, typer.Option(metavar="CODE", show_default=False)] = "",
) -> None:
    """Put many councils together: totals, who differs, and what a new council can expect."""
    from planner.pooling.pool import PoolRequest
    from planner.pooling.writing import pool_councils

    language = language or help_language()
    set_language(messages_for(FIRST_LANGUAGE, language).language)
    asked = PoolRequest(
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
    _print(pool_councils(places, out, asked, day=now, progress=print_note))


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


def _print(result: PoolResult) -> None:
    from planner.report.wording import Wording

    made = result.pool
    wording = Wording(made.country_locale, made.currency, made.language)
    numbers = [say("book.value"), say("pooled.column.interval")]
    table = start_table([say("book.figure")], numbers, title=f"{made.title}, {made.label}")
    for name in SHOWN:
        figure = result.register.find(name)
        if figure is not None:
            table.add_row(figure.label, wording.amount(figure), wording.spread(figure))
    print_table(table)
    for name, why in made.missing.items():
        show(say("pooled.left_out", name=name, why=why))
    list_files(result.files)
    print_note(f"\n{say('pooled.next')}")
