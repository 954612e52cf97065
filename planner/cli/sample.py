"""planner sample: draw a survey round from the register."""

from __future__ import annotations

import datetime as dt
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner.cli.options import (
    Day,
    DryRun,
    Force,
    ProgramFolder,
    date_of,
    day_asked,
    print_note,
    print_table,
    show,
    start_table,
    wording_of,
)
from planner.messages import officer_messages, say
from planner.sampling.request import DEFAULT_LIKENESS, DEFAULT_MARGIN, Round

if TYPE_CHECKING:
    from planner.report.wording import Wording
    from planner.sampling.drawing import DrawnRound

DAYS_OPEN = 27
FEW_ANSWERS = 10


class Kind(StrEnum):
    """Kinds of survey round."""

    BASELINE = "baseline"
    FOLLOWUP = "followup"


class Strata(StrEnum):
    """What divides the strata."""

    AREA = "area"
    DWELLING = "dwelling"
    AREA_DWELLING = "area_dwelling"


def sample(
    wave_id: Annotated[str, typer.Argument(metavar="ROUND")],
    program: ProgramFolder = Path(),
    *,
    kind: Kind | None = None,
    silent: Annotated[str | None, typer.Option(metavar="ROUND")] = None,
    response: Annotated[float | None, typer.Option(min=0.01, max=1.0)] = None,
    margin: Annotated[float, typer.Option(min=0.001, max=0.5)] = DEFAULT_MARGIN,
    size: Annotated[int | None, typer.Option(min=1)] = None,
    area_margin: Annotated[float | None, typer.Option(min=0.001, max=0.5)] = None,
    stratify: Strata | None = None,
    streets: Annotated[bool, typer.Option("--streets")] = False,
    likeness: Annotated[float, typer.Option(min=0.0, max=1.0)] = DEFAULT_LIKENESS,
    opens: Day = None,
    closes: Day = None,
    rest: Annotated[int, typer.Option(min=0, max=120)] = 6,
    dry_run: DryRun = False,
    force: Force = False,
) -> None:
    """Draw the households of a survey round and write who is to be called."""
    from planner.sampling.drawing import draw_round

    first = day_asked(opens)
    last = date_of(closes) or first + dt.timedelta(days=DAYS_OPEN)
    _check_kind(kind, silent)
    within = stratify or (Strata.AREA if streets else Strata.AREA_DWELLING)
    asked = Round(
        wave_id,
        (kind or Kind.FOLLOWUP).value,
        first,
        last,
        size,
        margin,
        response,
        within.value,
        rest,
        area_margin=area_margin,
        by_street=streets,
        likeness=likeness,
        silent_of=silent,
    )
    drawn = draw_round(program, asked, dry_run=dry_run, force=force)
    _print_plan(drawn, wording_of(program))
    _print_next(drawn)


def _check_kind(kind: Kind | None, silent: str | None) -> None:
    if kind is None and silent is None:
        raise typer.BadParameter(say("drawing.kind_missing"))
    if kind is not None and silent is not None:
        raise typer.BadParameter(say("drawing.kind_of_silent"))


def _print_plan(drawn: DrawnRound, wording: Wording) -> None:
    plan, asked = drawn.plan, drawn.plan.asked
    stands_for = int(plan.strata["population_count"].sum())
    opens, closes = wording.day(asked.opens_date), wording.day(asked.closes_date)
    show(say("drawing.round", wave=asked.wave_id, opens=opens, closes=closes))
    show(say("drawing.stands_for", count=stands_for, population=asked.population))
    if drawn.response_words:
        show(drawn.response_words)
    _print_left_out(drawn)
    names = ("stratum", "households", "resting", "ask", "answers", "known")
    stratum_head, *numbers = (say(f"drawing.column.{name}") for name in names)
    table = start_table([stratum_head], numbers, pad_edge=True)
    for stratum, count, resting, size, answers, margin in plan.strata.iter_rows():
        known = f"±{wording.share(margin)}" if answers >= FEW_ANSWERS else say("drawing.too_few")
        counts = (
            officer_messages().decimal(one, "#,##0") for one in (count, resting, size, answers)
        )
        table.add_row(stratum, *counts, known)
    print_table(table)
    if plan.streets_count is not None:
        show(say("drawing.streets", plan.streets_count))
    answers = plan.drawn.height * asked.answering
    margin = wording.share(plan.margin_expected, 1)
    about = {"answers": wording.number(answers), "margin": margin}
    show(say("drawing.to_ask", plan.drawn.height, **about))
    if asked.silent_of is not None:
        show(say("drawing.silent", wave=asked.silent_of))
    if asked.area_margin is not None:
        show(say("drawing.areas_known", margin=wording.share(asked.area_margin, 1)))
    if asked.size is None and plan.margin_expected > asked.margin * 1.02:
        show(say("drawing.wider", margin=wording.share(asked.margin, 1)))


def _print_left_out(drawn: DrawnRound) -> None:
    plan = drawn.plan
    if plan.no_consent_count:
        print_note(say("drawing.no_consent", plan.no_consent_count))
    if plan.asked_with_all_count:
        print_note(say("drawing.asked_with_all", plan.asked_with_all_count))
    if int(plan.strata["resting_count"].sum()):
        print_note(say("drawing.resting"))
    for stratum in plan.not_drawn_from:
        print_note(say("drawing.all_resting", stratum=stratum))


def _print_next(drawn: DrawnRound) -> None:
    if not drawn.kept:
        print_note(say("console.nothing_written"))
        return
    show(say("drawing.calling_file", path=str(drawn.calling_file)))
    show(say("drawing.samples_file", path=str(drawn.samples_file)))
    if drawn.unnamed_count:
        print_note(say("calling.unnamed", drawn.unnamed_count))
    print_note(say("drawing.next", path=str(drawn.samples_file)))
