"""What a household is told: its sheets, and what to feed."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Annotated

import typer

from planner import run
from planner.cli.options import ProgramFolder, command, show
from planner.cli.options import say as tell
from planner.messages import say


def sheet(
    program: ProgramFolder = Path(),
    *,
    language: Annotated[
        str | None,
        typer.Option(
            metavar="LANGUAGE",
            help="usage.sheet.language",
            show_default=False,
        ),
    ] = None,
    model: Annotated[str | None, typer.Option(help="usage.sheet.model")] = None,
    letters: Annotated[
        bool,
        typer.Option("--letters", help="usage.sheet.letters"),
    ] = False,
    template: Annotated[
        Path | None, typer.Option(metavar="FILE", help="usage.sheet.template")
    ] = None,
    copy_template: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="usage.sheet.copy_template"),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="usage.sheet.force")] = False,
) -> None:
    """Write the two-page starter sheet for households as a Word document and a web page."""
    if copy_template is not None:
        run.copy_sheet_template(copy_template, force=force)
        typer.echo(str(copy_template))
        return
    from planner.report.sheet.making import SheetRequest

    asked = SheetRequest(model, language, template, letters, force)
    written = run.sheet(program, asked)
    for path in written.files:
        typer.echo(str(path))
    if written.private_file is not None:
        file, results = str(written.private_file), written.results_count
        show(say("sheets.letters", written.letters_count, path=file, results=results))
        if not written.results_count:
            report = command("report", program=program)
            tell(say("sheets.to_tell", command=report))
    for note in written.notes:
        tell(say("console.note", note=note))


def feed(
    fed: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="MATERIAL=KG",
            help="usage.feed.fed",
            show_default=False,
        ),
    ] = None,
    program: ProgramFolder = Path(),
    *,
    household: Annotated[
        str | None,
        typer.Option(help="usage.feed.household"),
    ] = None,
    site: Annotated[
        str | None,
        typer.Option(help="usage.feed.site"),
    ] = None,
    model: Annotated[str | None, typer.Option(help="usage.sheet.model")] = None,
    weeks: Annotated[
        float | None,
        typer.Option(min=0.0, help="usage.feed.weeks"),
    ] = None,
    worms: Annotated[float | None, typer.Option(min=0.0, help="usage.feed.worms")] = None,
    bins: Annotated[int, typer.Option(min=1, help="usage.feed.bins")] = 1,
    temperature: Annotated[
        float | None,
        typer.Option(min=-60.0, max=60.0, help="usage.feed.temperature"),
    ] = None,
    bedding: Annotated[
        list[str] | None,
        typer.Option(help="usage.feed.bedding", show_default=False),
    ] = None,
) -> None:
    """Balance a week's feed: carbon, water and acid, bedding to add, what the worms can take."""
    from planner.field.feeding_of import FeedRequest, balance_lines

    asked = FeedRequest(
        fed_kg=_masses(fed or []),
        day=dt.datetime.now().astimezone().date(),
        household_id=household,
        site_id=site,
        model_id=model,
        weeks=weeks,
        starter_kg=worms,
        air_c=temperature,
        bins_count=bins,
        beddings=tuple(bedding or ()),
    )
    balance, factors = run.feed(program, asked)
    for line in balance_lines(balance, factors):
        show(line)


def _masses(words: list[str]) -> dict[str, float]:
    """Read each MATERIAL=KG; a decimal comma is taken too."""
    from planner.errors import ProgramError

    masses: dict[str, float] = {}
    for word in words:
        name, _, kilos = word.partition("=")
        try:
            mass = float(kilos.replace(",", "."))
        except ValueError:
            raise ProgramError(say("feeding.no_mass", found=word)) from None
        key = name.strip().casefold().replace(" ", "_")
        masses[key] = masses.get(key, 0.0) + mass
    return masses
