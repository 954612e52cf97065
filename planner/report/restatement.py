"""What of an issued report reads otherwise today, every figure, split by what changed it.

After the GHG Protocol Corporate Standard (2004), chapter 5, tracking emissions over time: figures
given out are recalculated for changes in data, factors and method, above a threshold that is
stated beforehand (the title was read, the text not).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from contextlib import ExitStack
from pathlib import Path

import polars as pl

from planner import __version__
from planner.factors import FactorTable, read_factors
from planner.figures import Figure, FigureRegister
from planner.messages import said, say
from planner.paths import PROGRAM_FILE
from planner.program import Program, open_program, read_program
from planner.report.issues import (
    FACTORS_FOLDER,
    Issue,
    digest,
    factors_digest,
    issued_register,
    records_digests,
)
from planner.report.register import register_year
from planner.report.wording import Wording
from planner.report.year import count_year, estimate_year
from planner.store.opening import open_store
from planner.store.undoing import copied, keep_keys, keys_of, rewind

CAUSES = ("version", "factors", "program file", "corrected rows", "new rows")
"""What can change a figure, in the order in which the changes are made one after the other."""

SAME = 1e-9
"""Differences smaller than this share come from the last bits alone."""


def restate(
    folder: Path,
    issue: Issue,
    now: FigureRegister,
    at: dt.datetime,
    progress: Callable[[str], None],
) -> pl.DataFrame:
    """Set every figure of an issue beside today's, of the same time, and split the change by cause.

    The report is estimated again with one change after the other: the planner's version,
    the published factors, the program file, the rows corrected or withdrawn since, the rows
    that are new. What a step moves is its share of the change, so the shares add up to it.
    Rows of a load that was taken back since count as corrected; where the version differs
    too, what that moved stands with them. The copies note the time `at`, UTC.

    Returns
    -------
    DataFrame
        A row a figure that differs: figure_id, label, unit, issued, today, change, one
        column a cause, is_material. A figure that only one side has, or shows, is a row
        without change and material; one that no step in between shows, as a comparison with
        the plan, has its change and no causes.
    """
    program = open_program(folder / PROGRAM_FILE)
    then = issued_register(folder, issue)
    with ExitStack() as stack:
        steps = _steps(folder, issue, program, at, stack)
        registers = [then]
        for cause, estimate in steps[:-1]:
            progress(say(f"restate.with_other.{cause.replace(' ', '_')}"))
            registers.append(estimate())
        registers.append(now)
    names = [cause for cause, _ in steps] or ["version"]
    return _compared(registers, names, program.reporting.materiality_share)


def _steps(
    folder: Path, issue: Issue, program: Program, at: dt.datetime, stack: ExitStack
) -> list[tuple[str, Callable[[], FigureRegister]]]:
    frozen = folder / issue.place
    old_program, table = read_program(frozen / PROGRAM_FILE), read_factors()
    old_table = read_factors(frozen / FACTORS_FOLDER)
    has_other_rows = _records(folder) != issue.records
    rewound, corrected = folder, folder
    if has_other_rows:
        rewound, corrected = [stack.enter_context(copied(folder)) for _ in range(2)]
        rewind(rewound, issue.loads, at)
        keep_keys(corrected, keys_of(rewound))
    # rows of a load that was taken back since cannot be had again: they go first, so that
    # no other cause carries them
    has_lost_rows = has_other_rows and _records(rewound) != issue.records

    def of(place: Path, one: Program, factors: FactorTable) -> Callable[[], FigureRegister]:
        return lambda: estimated(place, one, factors, issue)

    is_other_version = issue.version != __version__
    is_other_program = issue.program_file != digest(folder / PROGRAM_FILE)
    known = (
        ("corrected rows", has_lost_rows, of(rewound, old_program, old_table)),
        ("version", is_other_version, of(rewound, old_program, old_table)),
        ("factors", issue.factors != factors_digest(), of(rewound, old_program, table)),
        ("program file", is_other_program, of(rewound, program, table)),
        ("corrected rows", has_other_rows, of(corrected, program, table)),
        ("new rows", has_other_rows, of(folder, program, table)),
    )
    return [(cause, estimate) for cause, is_there, estimate in known if is_there]


def _records(folder: Path) -> dict[str, str]:
    with open_store(folder, read_only=True) as store:
        return records_digests(store)


def estimated(folder: Path, program: Program, table: FactorTable, issue: Issue) -> FigureRegister:
    """Estimate the figures of an issue's year and time from a folder's records."""
    label = issue.reporting_year
    # the last day that the issue covers
    as_of = program.months(label)[1]
    if issue.through_date:
        as_of = dt.date.fromisoformat(issue.through_date)
    with open_store(folder, read_only=True) as store:
        counts = count_year(store, program, label, as_of)
    return register_year(estimate_year(program, label, counts, table))


def _compared(
    registers: list[FigureRegister], causes: list[str], materiality_share: float
) -> pl.DataFrame:
    rows = []
    ids = dict.fromkeys(figure.id for one in (registers[0], registers[-1]) for figure in one)
    for name in ids:
        values = [one[name].value if name in one else None for one in registers]
        issued, today = values[0], values[-1]
        if issued == today or (issued and today and abs(today / issued - 1.0) <= SAME):
            continue
        figure = next(one[name] for one in reversed(registers) if name in one)
        rows.append(
            {
                "figure_id": name,
                "label": figure.label,
                "unit": figure.unit,
                "issued": issued,
                "today": today,
                **_split(values, causes, materiality_share),
            }
        )
    schema = {
        **dict.fromkeys(("figure_id", "label", "unit"), pl.String),
        **dict.fromkeys(("issued", "today", "change", *CAUSES), pl.Float64),
        "is_material": pl.Boolean,
    }
    return pl.DataFrame(rows, schema=schema)


def changed_amount(
    register: FigureRegister, row: Mapping[str, object], name: str, wording: Wording
) -> str:
    """Write one amount of a restatement with its unit, rounded as today's figure is.

    The row is one of `restate`, the name one of its columns of amounts.
    """
    value, figure_id = row[name], str(row["figure_id"])
    if not isinstance(value, float):
        return said("number.not_shown")
    known = register.find(figure_id)
    low, high = (known.low, known.high) if known else (None, None)
    return wording.amount(Figure(figure_id, "", value, low, high, str(row["unit"]), ""))


def _split(
    values: list[float | None], causes: list[str], materiality_share: float
) -> dict[str, float | bool | None]:
    """Split one figure's change by cause; without causes where a step does not show it."""
    issued, today = values[0], values[-1]
    if issued is None or today is None:
        return {"change": None, **dict.fromkeys(CAUSES), "is_material": True}
    change = today - issued
    is_material = abs(change) > materiality_share * abs(issued)
    known = [value for value in values if value is not None]
    if len(known) < len(values):
        return {"change": change, **dict.fromkeys(CAUSES), "is_material": is_material}
    moved = dict.fromkeys(CAUSES, 0.0)
    for cause, before, after in zip(causes, known, known[1:], strict=False):
        if abs(after - before) > SAME * max(abs(before), abs(after)):
            moved[cause] += after - before
    return {"change": change, **moved, "is_material": is_material}
