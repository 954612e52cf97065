"""Answers of another year in a file whose survey round the program file remembers."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import polars as pl

from planner.intake.confirming import with_doubtful
from planner.intake.vocabulary import SHEET_SIGN
from planner.messages import say
from planner.shells import pasted
from planner.tables.readings import HELD_ROUND

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from planner.intake.rows import Context, Rows

ROUND, DAY, ROUNDS = "wave_id", "answer_date", "waves"
LATE_DAYS = 60
"""Days after a round's end within which answers still come in (common practice, no source)."""


def with_fitting_round(
    rows: Rows,
    taken: Mapping[str, list[Rows]],
    known: Callable[[str], pl.DataFrame],
    context: Context,
) -> Rows:
    """Ask for the round of a sheet whose answers are not of the days of the remembered one.

    The program file names a round by file and sheet; a file of the same name comes the next year.

    Parameters
    ----------
    taken
        For each table before this one, the checked sheets of the same command.
    known
        Records of rounds that the store holds.
    """
    held = rows.headings.held.get(ROUND)
    if held is None or DAY not in rows.columns:
        return rows
    names = (ROUND, "opens_date", "closes_date")
    frames = [parent.good() for parent in taken.get(ROUNDS, [])]
    stored = known(ROUNDS)
    frames += [stored] if set(names) <= set(stored.columns) else []
    found = pl.concat([frame.select(names) for frame in frames]) if frames else pl.DataFrame()
    days = rows.typed.select("row_number", ROUND, DAY).drop_nulls()
    if found.is_empty() or days.is_empty():
        return rows
    of_round = found.filter(pl.col(ROUND) == days[ROUND][0])
    if of_round.is_empty():
        return rows
    _, opens, closes = of_round.row(0)
    other = ~days[DAY].is_between(opens, closes + dt.timedelta(days=LATE_DAYS))
    if other.sum() * 2 <= days.height:
        return rows
    values = days.select("row_number", pl.col(ROUND).alias("value"))
    return with_doubtful(rows, ROUND, values, HELD_ROUND, context, _advice(rows, opens, closes))


def _advice(rows: Rows, opens: dt.date, closes: dt.date) -> str:
    """Say what to write where a sheet holds a new round, or the remembered one after all."""
    key = f"{rows.source.address}{SHEET_SIGN} {ROUND}"
    command = ["planner", "look", rows.file, "--every-row", f"{key}={say('reading.new_round')}"]
    return say(
        "reading.other_round",
        opens=opens,
        closes=closes,
        command=pasted(command),
        name=f"{rows.table}.{ROUND}.{HELD_ROUND}",
    )
