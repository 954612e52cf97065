"""Where a figure stands: in a report, a plan, an order or the nursery, in that order."""

from __future__ import annotations

import difflib
from typing import TYPE_CHECKING

from planner.errors import ReportError
from planner.figures import read_register
from planner.messages import say
from planner.paths import FIGURES_FILE, REPORT_FOLDER
from planner.report.nursery import NURSERY_FOLDER
from planner.report.orders.folder import ORDERS_FOLDER
from planner.report.plan.making import PLAN_PREFIX, SIZING_FOLDER
from planner.report.replacing import finish_report

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from planner.figures import FigureRegister

MADE_BY = {
    PLAN_PREFIX: ("plan", "planner size"),
    "order_": ("order", "planner order"),
    "nursery_": ("nursery", "planner nursery"),
}
"""What holds figures whose ids begin so, and the command that makes it."""

NEAREST = 3


def find_figure(
    folder: Path, figure_id: str, reporting_year: str | None = None
) -> tuple[FigureRegister, str]:
    """Find the figures among which one stands, and their file.

    Looked through in this order: the report, the plan, the orders from the newest first day
    on, the nursery.

    Parameters
    ----------
    reporting_year
        Look at what is kept for this year alone.

    Returns
    -------
    tuple
        The figures, and the path of their file from the program folder on.

    Raises
    ------
    ReportError
        It stands nowhere: the nearest ids are named, or the command that makes it; or a
        file of figures is not one.
    """
    wanted = None if reporting_year is None else reporting_year.replace("/", "-")
    known: dict[str, list[str]] = {}
    for path in _files(folder, wanted):
        register = read_register(path.read_text(encoding="utf-8"))
        if wanted not in (None, register.reporting_year):
            continue
        place = path.relative_to(folder).as_posix()
        if figure_id in register:
            return register, place
        known[place] = [figure.id for figure in register]
    raise ReportError(_not_found(figure_id, wanted, known), path=str(folder))


def _files(folder: Path, reporting_year: str | None) -> Iterator[Path]:
    """Name the files of figures that are there."""
    for name in (REPORT_FOLDER, SIZING_FOLDER):
        finish_report(folder / name)
        places = [folder / name]
        if reporting_year is not None:
            places.append(folder / name / reporting_year)
        yield from (place / FIGURES_FILE for place in places if (place / FIGURES_FILE).exists())
    yield from sorted((folder / ORDERS_FOLDER).glob(f"*/{FIGURES_FILE}"), reverse=True)
    yield from (folder / NURSERY_FOLDER).glob(FIGURES_FILE)


def _not_found(figure_id: str, reporting_year: str | None, known: dict[str, list[str]]) -> str:
    year = say("find.year", year=reporting_year) if reporting_year else ""
    begins = next((prefix for prefix in MADE_BY if figure_id.startswith(prefix)), "")
    kind, made_by = MADE_BY.get(begins, ("report", "planner report"))
    takes_year = f" --year {reporting_year}" if year and kind in ("report", "plan") else ""
    first = say("find.first", command=f"{made_by}{takes_year}")
    if not known:
        return f"{say(f'find.none.{kind}', figure=figure_id, year=year)} {first}"
    ids = [name for names in known.values() for name in names]
    begun = [name for name in ids if name.startswith(figure_id)]
    near = list(dict.fromkeys(begun or difflib.get_close_matches(figure_id, ids)))[:NEAREST]
    advice = first if begins else say("find.ids")
    if near:
        advice = say("find.near", names=", ".join(near))
    places = ", ".join(known)
    return f"{say('find.not_there', figure=figure_id, year=year, places=places)} {advice}"
