"""Give a report out, account to a funder, and set out the evidence."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner import run
from planner.cli.options import (
    AsOfDay,
    OwnTemplate,
    ProgramFolder,
    ReportedYear,
    command,
    print_table,
    show,
)
from planner.cli.options import say as tell
from planner.messages import say

if TYPE_CHECKING:
    import polars as pl

    from planner.reporting import IssueResult

SHOWN_ROWS = 25
DAY = ["%Y-%m-%d"]
NEEDS_AN_ANSWER = 2


def issue(
    program: ProgramFolder = Path(),
    *,
    year: ReportedYear = None,
    as_of: AsOfDay = None,
    template: OwnTemplate = None,
    date: Annotated[
        dt.datetime | None,
        typer.Option(
            "--date",
            metavar="DAY",
            formats=DAY,
            help="usage.issue.date",
            show_default=False,
        ),
    ] = None,
    restate: Annotated[bool, typer.Option("--restate", help="usage.issue.restate")] = False,
    never_left: Annotated[
        int | None,
        typer.Option(
            "--never-left",
            metavar="OUTPUT",
            help="usage.issue.never_left",
            show_default=False,
        ),
    ] = None,
    reason: Annotated[str, typer.Option(help="usage.issue.reason", show_default=False)] = "",
) -> None:
    """Give a report out: number it and freeze it with digests of all that it rests on."""
    from planner.report.wording import Wording

    if never_left is not None:
        show(run.note_never_left(program, never_left, reason))
        return
    result = run.issue(
        program,
        year,
        day=date.date() if date else dt.date.today(),
        as_of=as_of.date() if as_of else None,
        template=template,
        restate=restate,
        progress=tell,
    )
    if result.before is not None and result.restated is not None:
        _print_changes(result, result.restated, result.before.number)
    if result.issue is None:
        label = result.register.reporting_year
        tell(f"\n{say('console.not_issued')}")
        tell(f"  {command('issue', '--year', label, '--restate', program=program)}")
        raise typer.Exit(NEEDS_AN_ANSWER)
    day = Wording.of(result.program).day(dt.date.fromisoformat(result.issue.issued_on))
    number = str(result.issue.number)
    show(say("console.issued", number=number, day=day, folder=str(result.folder)))
    tables = len(result.issue.records)
    show(say("console.issue_rests_on", len(result.issue.loads), tables=tables))


def _print_changes(result: IssueResult, changed: pl.DataFrame, number: int) -> None:
    """Print the material changes by cause; all of them stand in the file of the issue."""
    from rich.table import Table

    from planner.report.restatement import CAUSES, changed_amount
    from planner.report.wording import Wording

    material = changed.filter("is_material")
    issue_number = str(number)
    show(
        say(
            "console.changed_since",
            changed.height,
            issue=issue_number,
            material=material.height,
        )
    )
    table = Table(box=None, pad_edge=False)
    for heading in ("figure", "issued", "today", "by"):
        table.add_column(say(f"console.changed.{heading}"))
    wording = Wording.of(result.program)
    for row in material.head(SHOWN_ROWS).iter_rows(named=True):
        issued, today, *parts = (
            changed_amount(result.register, row, name, wording)
            for name in ("issued", "today", *CAUSES)
        )
        by = [f"{cause} {part}" for cause, part in zip(CAUSES, parts, strict=True) if row[cause]]
        table.add_row(row["label"], issued, today, "\n".join(by))
    print_table(table)
    if material.height > SHOWN_ROWS:
        show(say("console.more", count=material.height - SHOWN_ROWS))


def acquit(
    funder: Annotated[
        str,
        typer.Argument(
            metavar="FUNDER",
            help="usage.acquit.funder",
            show_default=False,
        ),
    ],
    program: ProgramFolder = Path(),
    *,
    as_of: AsOfDay = None,
) -> None:
    """Write for a funder what a grant paid for: bins, tonnes, ledger lines, what is left."""
    day = None if as_of is None else as_of.date()
    for path in run.acquit(program, funder, as_of=day, progress=tell):
        typer.echo(path)
    tell(say("console.next_acquit"))


def evidence(
    target: Annotated[Path, typer.Argument(metavar="DIR", help="usage.evidence.target")],
    program: ProgramFolder = Path(),
    *,
    year: ReportedYear = None,
    as_of: AsOfDay = None,
) -> None:
    """Write the rows, factors, settings and digests behind every figure of a year."""
    day = as_of.date() if as_of else None
    files = run.evidence(program, target, year, as_of=day, progress=tell)
    for path in files:
        typer.echo(path)
    tell(say("console.next_evidence"))
