"""The one control over what leaves the office: each output is held against all before it.

Every issue is remembered for ever, and every other output that may have left the office
(`outputs`): what it covers, the loads behind it and its counts. Of two outputs whoever holds both
can subtract, so what is written next tells either nothing new of a table of records that both
rest on, or what at least the program file's threshold of households changed. Where fewer have
changed, the report that was given out stands as it was, and no other output is given out. A draft
of a report leaves the office as an issue alone, so it is not remembered.

References
----------
Hundepool et al., Handbook on Statistical Disclosure Control, 2nd ed., 5.2 (disclosure by
differencing; what is protected in one table is protected in all that are linked to it).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import polars as pl

from planner.figures import FigureRegister, register_in
from planner.messages import say
from planner.paths import FIGURES_FILE
from planner.program import Program, label_of_date
from planner.report.disclosure.outputs import Output, read_outputs, remember
from planner.report.disclosure.parts import is_small
from planner.report.issues import (
    ISSUES_COMPARED,
    Issue,
    altered_issues,
    issued_registers,
    read_issues,
)
from planner.report.notes import choose_year
from planner.report.year import recorded_before
from planner.store.migrations import utc_now
from planner.store.opening import Store, open_store
from planner.store.queries import tables_of
from planner.tables import TABLES

if TYPE_CHECKING:
    from planner.ordering.request import OrderRequest

UNDONE = "taken back"
"""Row of loads that were taken back, which is no table."""

_HOUSEHOLDS = pl.coalesce("undone_households_count", pl.lit(1))
"""Of a load taken back by an earlier version nobody noted how many it held: as if of one."""

BETWEEN = "the days between the two"
"""Row of query changed_households that is no table."""

OF_ORDERS = (
    "upcoming_events", "registered_people", "handovers_by_month", "turnout_by_event",
    "promised_by_cases", "stock_reconciled",
)  # fmt: skip
"""Queries of households that an order and a nursery rest on."""

ORDER, NURSERY, PLAN, PROGRESS, EXPORT, ACCOUNT = (
    "order", "nursery plan", "plan", "progress page", "export", "account",
)  # fmt: skip
DRAFT = "draft"


class Earlier(NamedTuple):
    """An issue or another output that may have left the office, and what it rests on.

    Its `end` is the first day after the time that it covers.
    """

    one: Issue | Output
    loads: tuple[str, ...]
    end: dt.date
    tables: frozenset[str]


class DisclosureReason(NamedTuple):
    """Why an output, read beside an earlier one, would tell of a few households.

    Its `table` is that of which the records of a few changed; BETWEEN where it is the days between.
    """

    beside: Issue | Output
    table: str
    sentence: str


class Control(NamedTuple):
    """What was given out so far, and what a new output would tell beside it."""

    issues: tuple[Issue, ...]  # every issue, the first first
    # counts of the newest other outputs, then figures of the newest issues
    registers: tuple[FigureRegister, ...]
    told: tuple[DisclosureReason, ...]  # what the records behind a new output are too close to
    new: Output  # the new output, as it will be remembered

    def of_year(self, label: str) -> list[FigureRegister]:
        """Figures that were given out of one year."""
        return [one for one in self.registers if one.reporting_year == label]

    def sentences(self, kind: str) -> list[str]:
        """Say why an output, as "plan", is kept in the office; empty where it may leave it."""
        return [f"{one.sentence} {_stays(kind)}" for one in self.told]

    def give_out(
        self, folder: Path, kind: str, label: str, register: FigureRegister | None = None
    ) -> list[str]:
        """Remember an output that may leave the office, or say why it may not.

        The `register` has figures of which it shows counts of records; None where it shows none.
        """
        if not self.told:
            remember(folder, replace(self.new, kind=kind, reporting_year=label), register)
        return self.sentences(kind)


def open_control(
    folder: Path,
    store: Store,
    program: Program,
    before_date: dt.date,
    tables: Collection[str] = TABLES,
) -> Control:
    """Hold the records behind a new output, before a day, against every earlier one.

    Estimates rest on the answers of single households: of two outputs between which the
    records of a few have changed, the difference is theirs. So each table that both rest on must
    hold changes of none or of the program file's small_cell_threshold: records in the time that
    both cover that came late, were corrected, withdrawn or undone, with those of the days between
    their ends, from which no reader can part them. The days between alone must hold none or as
    many.
    """
    issues, outputs = read_issues(folder), read_outputs(folder)
    rests_on = frozenset(tables)
    told: list[DisclosureReason] = []
    for earlier in _earlier(issues, outputs, program):
        both = earlier._replace(tables=earlier.tables & rests_on)
        told += _told(store, both, before_date, program.privacy.small_cell_threshold)
    shown = (register_in(folder / one.place / FIGURES_FILE) for one in outputs[-ISSUES_COMPARED:])
    registers = (*(one for one in shown if one is not None), *issued_registers(folder, issues))
    loads = tuple(store.load_ids())
    today = f"{utc_now():%Y-%m-%d}"
    new = Output(0, "", "", today, f"{before_date}", loads, tuple(sorted(rests_on)))
    return Control(issues, registers, tuple(told), new)


def _earlier(
    issues: tuple[Issue, ...], outputs: tuple[Output, ...], program: Program
) -> Iterator[Earlier]:
    """Go through the newest of what was given out; of outputs that tell the same, the newest."""
    whole = frozenset(TABLES)
    for issue in issues[-ISSUES_COMPARED:]:
        yield Earlier(issue, tuple(issue.loads), issue_end(issue, program), whole)
    apart = {(one.loads, one.before_date, one.tables): one for one in outputs}
    for one in list(apart.values())[-ISSUES_COMPARED:]:
        end = dt.date.fromisoformat(one.before_date)
        yield Earlier(one, one.loads, end, frozenset(one.tables))


def _told(
    store: Store, earlier: Earlier, before_date: dt.date, threshold: int
) -> Iterator[DisclosureReason]:
    """Find the tables of which few households changed since an earlier output."""
    ends = sorted((before_date, earlier.end))
    listed = store.query("listed_loads").filter(
        pl.col("undone_at").is_not_null(), pl.col("load_id").is_in(list(earlier.loads))
    )
    fewest = listed.select(_HOUSEHOLDS.filter(_HOUSEHOLDS > 0).min()).item() or 0
    changed = store.query(
        "changed_households",
        load_ids=list(earlier.loads),
        before_date=ends[0],
        until_date=ends[1],
        tables=sorted(earlier.tables),
    )
    for table, count in (*changed.iter_rows(), (UNDONE, fewest)):
        if is_small(count, threshold):
            yield DisclosureReason(
                earlier.one, table, _sentence(earlier.one, table, count, threshold)
            )


def give_out_order(
    folder: Path, program: Program, kind: str, asked: OrderRequest
) -> tuple[str, ...]:
    """Remember an order or a nursery's plan (ORDER or NURSERY), or say why few may see it.

    Quantities follow from the places of each hand-over day, which may be few; a supplier must
    know them all the same.
    """
    threshold = program.privacy.small_cell_threshold
    tables = frozenset().union(*map(tables_of, OF_ORDERS))
    day = dt.timedelta(days=1)
    with open_store(folder, read_only=True) as store:
        control = open_control(folder, store, program, dt.date.max, tables)
        span = {"from_date": asked.from_date + day, "before_date": asked.until_date + day}
        booked = store.query("upcoming_events", **span)["booked_count"]
    label = label_of_date(asked.from_date, program.council.reporting_year_first_month)
    told = control.give_out(folder, kind, label)
    if any(is_small(count, threshold) for count in booked):
        told.append(say("disclosure.few_come", threshold=threshold, stays=_stays(kind)))
    return tuple(told)


def issue_that_stands(
    folder: Path, store: Store, program: Program, label: str | None, as_of: dt.date | None
) -> tuple[Issue, tuple[str, ...]] | None:
    """Find the issue that a report of the same year would repeat but for a few households, and why.

    The report is then that issue: it tells nothing that was not given out, and hides nothing
    that was. None where there is no issue of the year and time, or it is no longer what it
    was; where records of none or of enough have changed; or where many days lie between.
    """
    if not read_issues(folder):
        return None
    label = choose_year(store, program, label, as_of)
    before_date = recorded_before(store, label, *program.months(label), as_of)
    control = open_control(folder, store, program, before_date)
    same = [one for one in control.issues if one.reporting_year == label]
    # of the same time, or with the records of a few in the days between
    between = [one.beside for one in control.told if one.table == BETWEEN]
    close = [one for one in same[-1:] if issue_end(one, program) == before_date or one in between]
    why = tuple(one.sentence for one in control.told if one.beside in close)
    if not why or close[0].number in altered_issues(
        folder, control.issues, store.query("listed_issues")
    ):
        return None
    return close[0], why


def issue_end(issue: Issue, program: Program) -> dt.date:
    """First day after the time that an issue covers."""
    if issue.through_date:
        return dt.date.fromisoformat(issue.through_date) + dt.timedelta(days=1)
    known = {year.reporting_year for year in program.reporting_years}
    is_known = issue.reporting_year in known
    return program.months(issue.reporting_year)[1] if is_known else dt.date.max


def _stays(kind: str) -> str:
    return say(f"disclosure.stays.{kind.replace(' ', '_')}")


def _sentence(one: Issue | Output, table: str, count: int, threshold: int) -> str:
    since = say("disclosure.since.issue", number=f"{one.number}", year=one.reporting_year)
    if isinstance(one, Output):
        since = one.words
    key = "disclosure.between" if table == BETWEEN else "disclosure.changed"
    named = say("disclosure.taken_back") if table == UNDONE else table
    sentence = say(key, count, since=since, table=named, threshold=threshold)
    if isinstance(one, Output):
        sentence += f" {say('disclosure.never_left', number=f'{one.number}')}"
    return sentence
