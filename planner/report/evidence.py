"""The evidence behind a report: all that another person needs to work its figures out again.

Rows as the queries counted them, the ledger, the factors, the settings and the digests, as
plain CSV. No name, address, phone or mail is in it; rows are of single households, so it is
for the auditor and not for the public.
"""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING

import polars as pl

from planner.cells import csv_text
from planner.errors import ReportError
from planner.paths import FIGURES_FILE, FIGURES_TABLE_FILE, PROGRAM_FILE, QUERIES
from planner.report.figures.declaring import FRAMES
from planner.report.issues import digest

if TYPE_CHECKING:
    from pathlib import Path

    from planner.factors import FactorTable
    from planner.figures import FigureRegister
    from planner.report.year import Year
    from planner.store import Store

ROWS, QUERY_FOLDER = "rows", "queries"
TYPED = ("value", "record_key")
"""Columns of refused cells with what somebody typed, which may be a name."""

READ_ME = """Evidence behind the report of {council} for {year}

figures.csv      every figure with value, 95% interval, unit and method
figures.json     the same, with what each rests on in full
inputs.csv       what each figure rests on: other figures, queries, factors, settings
rows/            the rows that each query counted, one file a query
queries/         the text of each query and of the views that it reads
ledger.csv       every ledger line of the store, with its amount
refused.csv      every row that was refused, with its file, row, column, reason and amount
control_totals.csv  lines read = new + corrected + unchanged + repeated + skipped + refused,
                 and the amounts of the ledger likewise
total_rows.csv   total rows of the ledger's sheets against the lines that they add up
factors.csv      the published factors with edition, source and place
program.toml     the settings
digests.csv      SHA-256 of each of these files, and of each file that was loaded

The value of a figure is the central estimate; its interval is the middle 95% of {draws} draws
from seed {seed}, with planner {version}. Rows are of single households: keep this folder as
you keep the records. Counts and sums follow from rows/ with a spreadsheet; for the others the
column "method" of figures.csv says how they are worked out of rows, factors and settings.
"""


def write_evidence(
    target: Path, folder: Path, store: Store, register: FigureRegister, year: Year
) -> list[Path]:
    """Write the evidence to a folder that is not there yet.

    Parameters
    ----------
    target
        Folder to make.
    folder
        Program folder.
    store
        Its records.
    register, year
        The figures, and what they were estimated from.

    Returns
    -------
    list of Path
        The files.

    Raises
    ------
    ReportError
        The folder is there already, or cannot be written.
    """
    if target.exists():
        message = f"{target}: is there already. Name a folder that is not."
        raise ReportError(message, path=str(target))
    try:
        (target / ROWS).mkdir(parents=True)
        (target / QUERY_FOLDER).mkdir()
        _write_figures(target, register)
        _write_rows(target, register, year)
        _write(target / "ledger.csv", store.records("costs"))
        _write(target / "refused.csv", refused_rows(store))
        _write(target / "control_totals.csv", control_totals(store))
        _write(target / "total_rows.csv", store.query("totals_of_loads"))
        _write(target / "factors.csv", factor_rows(register, year.factor_table))
        shutil.copyfile(folder / PROGRAM_FILE, target / PROGRAM_FILE)
        words = READ_ME.format(
            council=register.council,
            year=register.reporting_year,
            draws=register.draws_count,
            seed=register.seed,
            version=register.version,
        )
        (target / "read_me.txt").write_text(words, encoding="utf-8")
        _write(target / "digests.csv", _digests(target, register))
    except OSError as error:
        message = f"{error.filename or target}: cannot be written ({error.strerror})."
        raise ReportError(message, path=str(target)) from error
    return sorted(path for path in target.rglob("*") if path.is_file())


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
    found = store.loads().filter(pl.col("table_name").is_not_null()).select(shown)
    accounted = pl.sum_horizontal(counts)
    counted = found.with_columns(difference_count=pl.col("rows_read") - accounted)
    amounts = store.query("amounts_of_loads").drop("file")
    return counted.join(amounts, on=place, how="left", maintain_order="left")


def refused_rows(store: Store) -> pl.DataFrame:
    """List refused cells without what was typed, but for amounts, which are numbers."""
    found = store.refusals().filter(pl.col("table_name") != "contacts")
    is_amount = pl.col("column_name").is_in(["amount", "copayment"])
    return found.with_columns(
        amount=pl.when(is_amount).then(pl.col("value").cast(pl.Float64, strict=False))
    ).drop(TYPED)


def factor_rows(register: FigureRegister, table: FactorTable) -> pl.DataFrame:
    """List the published factors on which some figure rests, each with its source."""
    inputs = [item for figure in register for item in figure.inputs]
    used = {item.name for item in inputs if item.kind == "factor"}
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
            "source": table.source(factor.source_id).citation,
            "place": factor.source_place,
            "seen": factor.seen,
        }
        for factor in table
        if factor.name in used
    ]
    return pl.DataFrame(rows, infer_schema_length=None)


def _write_figures(target: Path, register: FigureRegister) -> None:
    (target / FIGURES_FILE).write_text(register.to_json(), encoding="utf-8", newline="")
    (target / FIGURES_TABLE_FILE).write_text(register.to_csv(), encoding="utf-8-sig", newline="")
    rows = [
        {"figure_id": figure.id, "kind": item.kind, "name": item.name, "detail": item.detail}
        for figure in register
        for item in figure.inputs
    ]
    _write(target / "inputs.csv", pl.DataFrame(rows))


def _write_rows(target: Path, register: FigureRegister, year: Year) -> None:
    """Write the rows of every query that a figure names, and the text of what it reads."""
    inputs = [item for figure in register for item in figure.inputs]
    for name in sorted({item.name for item in inputs if item.kind == "query"}):
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
    path.write_text(csv_text(rows), encoding="utf-8-sig", newline="")
