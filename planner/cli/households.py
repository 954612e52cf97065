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
            help="Language of the sheet, as fr; your council's own unless said.",
            show_default=False,
        ),
    ] = None,
    model: Annotated[
        str | None, typer.Option(help="Bin model; the first of program.toml unless said.")
    ] = None,
    letters: Annotated[
        bool,
        typer.Option(
            "--letters", help="Write a thank-you letter too, and private rows to merge into it."
        ),
    ] = False,
    template: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Your own Word template of the sheet.")
    ] = None,
    copy_template: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Write our template to a file to make it your own."),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Write files again.")] = False,
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
            help="What is fed in a week, as vegetable_scraps=1.2 coffee_grounds=0.3; left out "
            "with --household, what it last said.",
            show_default=False,
        ),
    ] = None,
    program: ProgramFolder = Path(),
    *,
    household: Annotated[
        str | None,
        typer.Option(help="Household whose bins are fed: their model, age and worms are known."),
    ] = None,
    site: Annotated[
        str | None,
        typer.Option(help="Site whose bins are fed, as a school; its last weighed week is known."),
    ] = None,
    model: Annotated[
        str | None, typer.Option(help="Bin model; the first of program.toml unless said.")
    ] = None,
    weeks: Annotated[
        float | None,
        typer.Option(min=0.0, help="Age of the bins in weeks; fully grown unless said."),
    ] = None,
    worms: Annotated[
        float | None, typer.Option(min=0.0, help="Worms each bin began with, in kilograms.")
    ] = None,
    bins: Annotated[int, typer.Option(min=1, help="Bins that share the feed, as at a site.")] = 1,
    temperature: Annotated[
        float | None,
        typer.Option(
            min=-60.0, max=60.0, help="Air about the bin in °C; the month's normal unless said."
        ),
    ] = None,
    bedding: Annotated[
        list[str] | None,
        typer.Option(help="Bedding at hand, as newspaper; may be given again.", show_default=False),
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
