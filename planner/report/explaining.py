"""A figure found and explained: value, method, and all it rests on, down to files and sources."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from pathlib import Path

import polars as pl

from planner.errors import ReportError
from planner.figures import Figure, FigureRegister, Input, nearest_figures, read_register
from planner.messages import said, say
from planner.paths import FIGURES_FILE, NURSERY_FOLDER, ORDERS_FOLDER, REPORT_FOLDER, SIZING_FOLDER
from planner.report.disclosure.parts import is_small
from planner.report.replacing import finish_report
from planner.report.wording import Wording
from planner.store.queries import tables_of
from planner.tables import TABLES, references

WIDTH = 80
INDENT = "  "
NO_BREAKS = "\u00a0\u202f"
"""Blanks before signs of French and Spanish, at which no line is broken."""

DEEPEST_INDENT = 10
"""Deeper levels are not pushed further in, so that lines stay long enough to read."""

OF_HOUSEHOLDS = frozenset(
    name
    for name in TABLES
    if "household_id" in TABLES[name].columns() or "handovers" in references(name).values()
)
"""Tables of which a record tells of one household."""

MADE_BY = {
    "plan_": ("plan", "planner size"),
    "order_": ("order", "planner order"),
    "nursery_": ("nursery", "planner nursery"),
}
"""What holds figures whose ids begin so, and the command that makes it."""


def find_figure(
    folder: Path, figure_id: str, reporting_year: str | None = None
) -> tuple[FigureRegister, str]:
    """Find the figures among which one stands, and their file, from the program folder on.

    Looked through in this order: the report, the plan, the orders from the newest first day
    on, the nursery; with a year, only what is kept for it.

    Raises
    ------
    ReportError
        It stands nowhere: the nearest ids are named, or the command that makes it; or a
        file of figures is not one.
    """
    wanted = None if reporting_year is None else reporting_year.replace("/", "-")
    known: dict[str, list[str]] = {}
    for path in _figure_files(folder, wanted):
        register = read_register(path.read_text(encoding="utf-8"))
        if wanted not in (None, register.reporting_year):
            continue
        place = path.relative_to(folder).as_posix()
        if figure_id in register:
            return register, place
        known[place] = [figure.id for figure in register]
    raise ReportError(_not_found(figure_id, wanted, known), path=str(folder))


def _figure_files(folder: Path, reporting_year: str | None) -> Iterator[Path]:
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
    near = nearest_figures(figure_id, (name for names in known.values() for name in names))
    advice = near or (first if begins else say("find.ids"))
    not_there = say("find.not_there", figure=figure_id, year=year, places=", ".join(known))
    return f"{not_there} {advice}"


def explain(
    register: FigureRegister,
    figure_id: str,
    wording: Wording | None = None,
    found_in: str = "",
    records: Sequence[str] = (),
) -> str:
    """Explain a figure as plain text of 80 columns.

    First the figure with its 95% interval and method, then the tree of its inputs: other
    figures, each opened once, queries with their row counts, published factors with value,
    range and source, settings of the program file, each told once; last the draws and
    the files behind the records, or the `records` as `records_told` has them.

    Examples
    --------
    >>> from planner.figures import Figure, FigureRegister
    >>> register = FigureRegister("Town", "2025-26", "1")
    >>> _ = register.add(Figure("fed_t", "Scraps fed", 12.345, 9.84, 15.12, "t", "Weighed."))
    >>> print(explain(register, "fed_t"))
    Scraps fed [fed_t]
    Town, 2025-26
    12 t, 95% interval 10 to 15
    <BLANKLINE>
    How it came about
      Weighed.
    """
    figure = register[figure_id]
    words = wording or Wording()
    lines = [
        f"{figure.label} [{figure.id}]",
        f"{register.council}, {register.reporting_year}",
        *([found_in] if found_in else []),
        _value(figure, words),
        "",
        said("explain.how"),
        INDENT + figure.method,
    ]
    if figure.inputs:
        lines += ["", said("explain.rests_on"), *_tree(register, figure, words, {figure.id}, 1)]
    if figure.low is not None and register.draws_count:
        count = words.number(register.draws_count)
        told = said("explain.draws_of", count=count, seed=str(register.seed))
        lines += ["", said("explain.draws"), INDENT + told]
    files = [] if records else list(_files(register, figure))
    if files:
        lines += ["", said("explain.files"), *(f"{INDENT}- {line}" for line in files)]
    if records:
        lines += ["", said("explain.records"), *(f"{INDENT}{line}" for line in records)]
    return "\n".join(part for line in lines for part in _wrapped(line))


def _files(register: FigureRegister, figure: Figure) -> Iterator[str]:
    """Name the files whose rows enter a figure, with the head of their digest.

    Of a report that does not say which tables a file fed, every file is named.
    """
    tables = tables_behind(register, figure.id)
    for line in register.loads:
        file = register.files.get(line)
        if file is None:
            yield line
        elif tables & set(file.tables):
            yield f"{line}, SHA-256 {file.sha256[:12]}"


def tables_behind(register: FigureRegister, figure_id: str) -> frozenset[str]:
    """Name the record tables that the queries under a figure read."""
    queries = {item.name for item in register.leaves(figure_id) if item.kind == "query"}
    # an order rests on a record table as it is, too
    read = ({name} if name in TABLES else tables_of(name) for name in queries)
    return frozenset().union(*read) - {"contacts"}


def records_told(records: pl.DataFrame, threshold: int) -> list[str]:
    """Say how many records of each table came from which file, with its digest.

    They come from `planner.report.evidence.records_behind`. Those of households are counted and not
    named, and where a file holds those of few households its count is not told, nor those of the
    other files: the sum would give it away.
    """
    lines = []
    for (table,), rows in records.group_by("table_name", maintain_order=True):
        by_file = rows.group_by("file", "load_id", "sha256", maintain_order=True).agg(
            pl.len().alias("count"),
            pl.col("household_id").n_unique().alias("households"),
            pl.col("record_key").first().alias("first"),
            pl.col("record_key").last().alias("last"),
            pl.col("record_date").min().alias("from_date"),
            pl.col("record_date").max().alias("to_date"),
        )
        of_households = str(table) in OF_HOUSEHOLDS
        hides = of_households and any(is_small(count, threshold) for count in by_file["households"])
        for row in by_file.iter_rows(named=True):
            count, first, last = row["count"], row["first"], row["last"]
            named = ""
            if not of_households:
                span = said("explain.span", first=first, last=last) if count > 1 else first
                named = f", {span}"
            if row["from_date"] is not None and not hides:
                days = {"first": row["from_date"], "last": row["to_date"]}
                is_one_day = row["from_date"] == row["to_date"]
                named += said("explain.dated_once" if is_one_day else "explain.dated", **days)
            lines.append(
                said(
                    "explain.record",
                    table=str(table),
                    count=said("explain.some") if hides else said("explain.count", count),
                    file=row["file"],
                    load=row["load_id"],
                    named=named,
                    digest=row["sha256"],
                )
            )
    return lines


def _tree(
    register: FigureRegister, figure: Figure, wording: Wording, opened: set[str], depth: int
) -> Iterator[str]:
    edge = INDENT * min(depth, DEEPEST_INDENT)
    for item in figure.inputs:
        if item.kind != "figure":
            yield f"{edge}- {_leaf(item, opened)}"
            continue
        part = register[item.name]
        value = _value(part, wording)
        if part.id in opened:
            yield f"{edge}- {part.label} [{part.id}]: {value} {said('explain.opened')}"
            continue
        opened.add(part.id)
        yield f"{edge}- {part.label} [{part.id}]: {value}"
        yield f"{edge}{INDENT}{part.method}"
        yield from _tree(register, part, wording, opened, depth + 1)


def _leaf(item: Input, opened: set[str]) -> str:
    name = said(f"explain.kind.{item.kind}", name=item.name)
    if item.kind == "query" or name not in opened:
        opened.add(name)
        if not item.detail:
            return name
        key = "explain.set" if item.kind == "program" else "explain.told"
        return said(key, name=name, told=item.detail)
    return f"{name} {said('explain.as_above')}"


def _value(figure: Figure, wording: Wording) -> str:
    spread = wording.spread(figure)
    amount = wording.amount(figure)
    return said("explain.interval", amount=amount, spread=spread) if spread else amount


def _wrapped(line: str) -> list[str]:
    """Break a line, and let nothing through that a terminal would obey."""
    printable = "".join(c for c in line if c.isprintable() or c in NO_BREAKS)
    edge = printable[: len(printable) - len(printable.lstrip(" "))]
    hanging = edge + (INDENT if printable.startswith("- ", len(edge)) else "")
    return textwrap.wrap(printable, WIDTH, subsequent_indent=hanging) or [""]
