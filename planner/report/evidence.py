"""The evidence behind a report: all that another person needs to work its figures out again.

Rows as the queries counted them, the ledger, the factors, the settings and the digests, as
plain CSV. No name, address, phone or mail is in it; rows are of single households, so it is
for the auditor and not for the public. ISO 14064-2:2019, 6.11, asks for such documents (number
from memory).
"""

from __future__ import annotations

import datetime as dt
import shutil
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl
import polars.selectors as cs

from planner.cells import csv_text
from planner.errors import ReportError, StoreError
from planner.factors import FactorTable
from planner.figures import FigureRegister
from planner.messages import paper, said
from planner.paths import PROGRAM_FILE, QUERIES, STORE_FILE
from planner.program import Program
from planner.report.explaining import tables_behind
from planner.report.figures.writer import FRAMES
from planner.report.issues import digest
from planner.rounding import CENTS
from planner.store.files import disk_faults, fault_of, refuse_there, write_owned
from planner.store.opening import Store, open_store
from planner.tables import references

if TYPE_CHECKING:
    from planner.report.year import Year

ROWS, QUERY_FOLDER = "rows", "queries"
HOUSEHOLD = "household_id"
SOURCES = {
    "table_name": pl.String,
    "record_key": pl.String,
    "record_date": pl.Date,
    "load_id": pl.String,
    HOUSEHOLD: pl.String,
    "file": pl.String,
    "sha256": pl.String,
}
"""Columns of the records behind a figure."""

PARTED = ("category", "wave_id")
"""Columns that the part of a figure may name."""

TYPED = ("value", "record_key")
"""Columns of refused cells with what somebody typed, which may be a name."""


def check_new(target: Path) -> None:
    """Refuse a folder or file that is there already with a ReportError."""
    refuse_there([target], "evidence.there_already", ReportError)


def write_evidence(
    target: Path, folder: Path, store: Store, register: FigureRegister, year: Year
) -> list[Path]:
    """Write the evidence to a folder that is not there yet."""
    check_new(target)
    with disk_faults(target, "file.unwritten", ReportError, by_file=True):
        target.parent.mkdir(parents=True, exist_ok=True)
        # whole or not at all, and its owner's alone: rows are of single households
        draft = Path(tempfile.mkdtemp(prefix=".new-", dir=target.parent))
        try:
            _fill(draft, folder, store, register, year)
            draft.rename(target)
        finally:
            shutil.rmtree(draft, ignore_errors=True)
    return sorted(path for path in target.rglob("*") if path.is_file())


def _fill(target: Path, folder: Path, store: Store, register: FigureRegister, year: Year) -> None:
    (target / ROWS).mkdir()
    (target / QUERY_FOLDER).mkdir()
    _write_figures(target, register)
    _write_rows(target, register, year)
    _write(target / "records.csv", _all_records(store, register, year))
    _write(target / "ledger.csv", store.records("costs"))
    _write(target / "refused.csv", refused_rows(store))
    _write(target / "control_totals.csv", control_totals(store))
    _write(target / "total_rows.csv", store.query("totals_of_loads"))
    _write(target / "factors.csv", factor_rows(register, year.factor_table))
    shutil.copyfile(folder / PROGRAM_FILE, target / PROGRAM_FILE)
    words = said(
        "evidence.read_me",
        council=register.council,
        year=register.reporting_year,
        draws=str(register.draws_count),
        seed=str(register.seed),
        version=register.version,
    )
    (target / "read_me.txt").write_text(words, encoding="utf-8")
    _write(target / "digests.csv", _digests(target, register))


def _all_records(store: Store, register: FigureRegister, year: Year) -> pl.DataFrame:
    before = year.counts.before_date
    # one figure of each set of tables that some figure rests on
    by_tables = {tables_behind(register, one.id): one.id for one in register if not one.part}
    frames = [records_behind(store, register, name, before) for name in by_tables.values()]
    found = pl.concat(frames).drop(HOUSEHOLD).unique(maintain_order=True)
    return found.sort("table_name", maintain_order=True)


def records_behind(
    store: Store, register: FigureRegister, figure_id: str, before_date: dt.date
) -> pl.DataFrame:
    """List the records that stand behind a figure, each with the file that it came from.

    Returns
    -------
    DataFrame
        table_name, record_key, record_date, load_id, household_id (of records of households),
        file, sha256: the records of every table that a query under the figure reads, as far as
        the report had them. Of a category of the ledger or a survey round, those of that part.
    """
    known = {line.split(" ", 1)[0] for line in register.loads}
    part = register[figure_id].part
    frames = [
        _of_part(store, table, part).select(pl.lit(table).alias("table_name"), pl.all())
        for table in sorted(tables_behind(register, figure_id))
    ]
    files = store.query("loads").select("load_id", "file", "sha256").unique()
    found = pl.concat([pl.DataFrame(schema=SOURCES).drop("file", "sha256"), *frames])
    is_covered = pl.col("record_date").is_null() | (pl.col("record_date") < before_date)
    return found.filter(is_covered, pl.col("load_id").is_in(known)).join(
        files, on="load_id", how="left", maintain_order="left"
    )


def records_of_report(
    folder: Path, program: Program, register: FigureRegister, figure_id: str
) -> pl.DataFrame:
    """List the records behind a figure of a report, as `records_behind` does, from its folder.

    There are none where the figures are no report's, or the records cannot be read as they stand.
    """
    known = {year.reporting_year for year in program.reporting_years}
    is_report = "program_cost" in register and register.reporting_year in known
    if not is_report or not (folder / STORE_FILE).exists():
        return pl.DataFrame(schema=SOURCES)
    if register.through_date:
        before_date = dt.date.fromisoformat(register.through_date) + dt.timedelta(days=1)
    else:
        _, before_date = program.months(register.reporting_year)
    try:
        with open_store(folder, read_only=True) as store:
            return records_behind(store, register, figure_id, before_date)
    except StoreError:
        # a store of an older version is read once it is loaded; the figure is told without it
        return pl.DataFrame(schema=SOURCES)


def _of_part(store: Store, table: str, part: str) -> pl.DataFrame:
    """Read the sources of a table's records; of a part that one of its columns names, its own."""
    records = store.records(table)
    if "handovers" in references(table).values() and HOUSEHOLD not in records.columns:
        bins = store.records("handovers").select("handover_id", HOUSEHOLD)
        records = records.join(bins, on="handover_id", how="left", maintain_order="left")
    whose = records[HOUSEHOLD] if HOUSEHOLD in records.columns else pl.lit(None, pl.String)
    found = store.record_sources(table).with_columns(whose.alias(HOUSEHOLD))
    for column in set(PARTED) & set(records.columns):
        is_own = records[column].cast(pl.String) == part
        if is_own.any():
            return found.filter(is_own)
    return found


def write_records(path: Path, records: pl.DataFrame) -> None:
    """Write what `records_behind` lists to a file that is not there yet, its owner's alone."""
    if records.is_empty():
        raise fault_of(path, "evidence.no_records", ReportError)
    check_new(path)
    write_owned(path, csv_text(records.drop(HOUSEHOLD)).encode("utf-8-sig"))


def control_totals(store: Store) -> pl.DataFrame:
    """Set the lines of each sheet against what became of them, with the amounts of the ledger.

    Returns
    -------
    DataFrame
        A row a load, sheet and table: the counts of `Store.loads`, and difference_count,
        what was read less all that is accounted for; for the ledger what the lines of each
        fate add up to, and how many refused ones have an amount that cannot be read.
    """
    parts = ("new", "corrected", "unchanged", "repeated", "skipped", "refused")
    counts = [f"{part}_count" for part in parts]
    place = ("load_id", "sheet", "table_name")
    shown = ("load_id", "file", "sheet", "table_name", "rows_read", *counts)
    found = store.query("loads").filter(pl.col("table_name").is_not_null()).select(shown)
    accounted = pl.sum_horizontal(counts)
    counted = found.with_columns(difference_count=pl.col("rows_read") - accounted)
    amounts = store.query("amounts_of_loads").drop("file")
    return counted.join(amounts, on=place, how="left", maintain_order="left")


def refused_rows(store: Store) -> pl.DataFrame:
    """List refused cells without what was typed, but for amounts, which are numbers."""
    found = store.query("refusals").filter(pl.col("table_name") != "contacts")
    is_amount = pl.col("column_name").is_in(["amount", "copayment"])
    return found.with_columns(
        amount=pl.when(is_amount).then(pl.col("value").cast(pl.Float64, strict=False))
    ).drop(TYPED)


def factor_rows(register: FigureRegister, table: FactorTable) -> pl.DataFrame:
    """List the published factors on which some figure rests, each with its source."""
    used = register.uses("factor")
    rows = [
        {
            "factor": factor.name,
            "value": factor.value,
            "low": factor.limits[0],
            "high": factor.limits[1],
            "shape": factor.shape,
            "unit": factor.unit,
            "edition": factor.edition,
            "evidence": factor.evidence,
            "source": table.source(factor.source_id).cited(paper()),
            "place": factor.place(paper()),
            "seen": factor.seen,
        }
        for factor in table
        if factor.name in used
    ]
    return pl.DataFrame(rows, infer_schema_length=None)


def _write_figures(target: Path, register: FigureRegister) -> None:
    register.write(target)
    rows = [
        {"figure_id": figure.id, "kind": item.kind, "name": item.name, "detail": item.detail}
        for figure in register
        for item in figure.inputs
    ]
    _write(target / "inputs.csv", pl.DataFrame(rows))


def _write_rows(target: Path, register: FigureRegister, year: Year) -> None:
    """Write the rows of every query that a figure names, and the text of what it reads."""
    for name in sorted(register.uses("query")):
        if name in FRAMES:
            _write(target / ROWS / f"{name}.csv", _flat(getattr(year.counts, FRAMES[name])))
        for path in [*QUERIES.glob(f"*/{name}.sql"), *QUERIES.glob("stage/*.sql")]:
            shutil.copyfile(path, target / QUERY_FOLDER / path.name)


def _flat(rows: pl.DataFrame) -> pl.DataFrame:
    """Write lists and structures as text, which CSV has no other place for."""
    nested = [name for name, kind in rows.schema.items() if kind.is_nested()]
    return rows.with_columns(
        pl.col(name).map_elements(str, return_dtype=pl.String) for name in nested
    )


def _digests(target: Path, register: FigureRegister) -> pl.DataFrame:
    files = sorted(path for path in target.rglob("*") if path.is_file())
    written = [(path.relative_to(target).as_posix(), digest(path)) for path in files]
    loaded = [(f"loaded: {line}", file.sha256) for line, file in register.files.items()]
    return pl.DataFrame([*written, *loaded], schema=("file", "sha256"), orient="row")


def _write(path: Path, rows: pl.DataFrame) -> None:
    # sums of cents in binary have a tail that no ledger has
    in_cents = rows.with_columns((cs.float() & cs.matches("(^|_)amount$")).round(CENTS))
    path.write_text(csv_text(in_cents), encoding="utf-8-sig", newline="")
