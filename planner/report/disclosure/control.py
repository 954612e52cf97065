"""The one control over what leaves the office: every output is held against all issues.

An issue is remembered for ever: its figures, the loads behind it, the days that it covers. Of
two outputs whoever holds both can subtract, so what is written next tells either nothing new
of a table of records, or what at least the program file's threshold of households changed.
Where fewer have changed, the report that was given out stands as it was.

References
----------
Hundepool et al., Handbook on Statistical Disclosure Control, 2nd ed., 5.2 (disclosure by
differencing; what is protected in one table is protected in all that are linked to it).
"""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, NamedTuple

import polars as pl

from planner.report.disclosure.parts import is_small
from planner.report.issues import ISSUES_COMPARED, altered, issued_registers, read_issues
from planner.report.notes import choose_year
from planner.report.year import recorded_before

if TYPE_CHECKING:
    from pathlib import Path

    from planner.figures import FigureRegister
    from planner.program import Program
    from planner.report.issues import Issue
    from planner.store import Store

UNDONE = "loads that were taken back"
_HOUSEHOLDS = pl.coalesce("undone_households_count", pl.lit(1))
"""Of a load taken back by an earlier version nobody noted how many it held: as if of one."""

BETWEEN = "the days between the two"
"""Row of query changed_households that is no table."""


class Told(NamedTuple):
    """Why an output, read beside an issue, would tell of a few households.

    Parameters
    ----------
    issue
        What it would be read beside.
    table
        Of which the records of a few households changed; BETWEEN where it is the days between.
    sentence
        For the officer.
    """

    issue: Issue
    table: str
    sentence: str


class Control(NamedTuple):
    """What was given out so far, and what a new output would tell beside it.

    Parameters
    ----------
    issues
        Every issue, the first first.
    registers
        Figures of the newest of them.
    told
        Issues that the records behind a new output are too close to.
    """

    issues: tuple[Issue, ...]
    registers: tuple[FigureRegister, ...]
    told: tuple[Told, ...]

    def of_year(self, label: str) -> list[FigureRegister]:
        """Figures that were given out of one year."""
        return [one for one in self.registers if one.reporting_year == label]

    def sentences(self, what: str) -> list[str]:
        """Say why an output is kept in the office; empty where it may leave it.

        Parameters
        ----------
        what
            The output, as "plan".
        """
        return [f"{one.sentence} Keep this {what} in the office." for one in self.told]


def open_control(folder: Path, store: Store, program: Program, before_date: dt.date) -> Control:
    """Hold the records behind a new output against every issue.

    Estimates rest on the answers of single households: of two outputs between which the
    records of a few have changed, the difference is theirs. So each table must hold changes of
    none or of the program file's small_cell_threshold: records in the time that both cover that
    came late, were corrected, withdrawn or undone, with those of the days between their ends,
    from which no reader can part them. The days between alone must hold none or as many.

    Parameters
    ----------
    folder, store, program
        Program folder, its records and its threshold.
    before_date
        First day after the time that the new output covers.
    """
    issues = read_issues(folder)
    threshold = program.privacy.small_cell_threshold
    listed = store.listed_loads().filter(pl.col("undone_at").is_not_null())
    told = []
    for one in issues[-ISSUES_COMPARED:]:
        ends = sorted((before_date, issue_end(one, program)))
        given = {"load_ids": list(one.loads), "before_date": ends[0], "until_date": ends[1]}
        undone = listed.filter(pl.col("load_id").is_in(list(one.loads)))
        fewest = undone.select(_HOUSEHOLDS.filter(_HOUSEHOLDS > 0).min()).item() or 0
        changed = [*store.query("changed_households", **given).iter_rows(), (UNDONE, fewest)]
        told += [
            Told(one, table, _sentence(one, table, count, threshold))
            for table, count in changed
            if is_small(count, threshold)
        ]
    return Control(issues, issued_registers(folder, issues), tuple(told))


def issue_that_stands(
    folder: Path, store: Store, program: Program, label: str | None, as_of: dt.date | None
) -> tuple[Issue, tuple[str, ...]] | None:
    """Find the issue that a report of the same year would repeat but for a few households.

    The report is then that issue: it tells nothing that was not given out, and hides nothing
    that was. None where there is no issue of the year and time, or it is no longer what it
    was; where records of none or of enough have changed; or where many days lie between.

    Parameters
    ----------
    folder, store, program
        Program folder, its records, and its threshold.
    label, as_of
        As of `planner.run.report`.

    Returns
    -------
    tuple or None
        The issue, and why it stands.
    """
    if not read_issues(folder):
        return None
    label = choose_year(store, program, label, as_of)
    before_date = recorded_before(store, label, *program.months(label), as_of)
    control = open_control(folder, store, program, before_date)
    same = [one for one in control.issues if one.reporting_year == label]
    close = [
        one
        for one in same[-1:]
        if issue_end(one, program) == before_date or _days_told(control, one)
    ]
    why = tuple(one.sentence for one in control.told if one.issue in close)
    if not why or close[0].number in altered(folder, control.issues, store.query("listed_issues")):
        return None
    return close[0], why


def issue_end(issue: Issue, program: Program) -> dt.date:
    """First day after the time that an issue covers."""
    if issue.through_date:
        return dt.date.fromisoformat(issue.through_date) + dt.timedelta(days=1)
    known = {year.reporting_year for year in program.reporting_years}
    is_known = issue.reporting_year in known
    return program.months(issue.reporting_year)[1] if is_known else dt.date.max


def _days_told(control: Control, issue: Issue) -> bool:
    """Whether the days between an issue and the new output hold the records of a few."""
    return any(one.issue == issue and one.table == BETWEEN for one in control.told)


def _sentence(issue: Issue, table: str, count: int, threshold: int) -> str:
    whom = f"{count} {'household' if count == 1 else 'households'}"
    where = "lie between the days that both cover" if table == BETWEEN else f"changed in {table}"
    return (
        f"Since issue {issue.number} of {issue.reporting_year}, records of {whom} {where}, fewer "
        f"than {threshold}: whoever holds both could work out what they say."
    )
