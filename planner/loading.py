"""Loading: files checked by intake are written to the store, in one transaction."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import polars as pl

from planner.intake import FileIntake, Rows, read_files, write_refused
from planner.paths import REFUSED_FOLDER
from planner.store import Store, Writer, open_store, writing

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from planner.program import Program


@dataclass(frozen=True)
class LoadedFile:
    """What became of one file.

    Attributes
    ----------
    file
        Name of the file.
    load_id
        Its load; None where nothing was new in a file loaded before.
    is_known
        The same content was loaded before: only its refused rows were tried again.
    counts
        One row a sheet: sheet, table_name, rows_read, new_count, corrected_count,
        unchanged_count, repeated_count, skipped_count, refused_count.
    problems
        Cells because of which rows are refused.
    refused_file
        CSV file of all problems, where there are any.
    notes
        What the officer should know though nothing needs mending.
    """

    file: str
    load_id: str | None
    is_known: bool
    counts: pl.DataFrame
    problems: pl.DataFrame
    refused_file: Path | None
    notes: tuple[str, ...]


@dataclass(frozen=True)
class LoadResult:
    """What became of the files of one command; `kept` is False for a dry run."""

    files: tuple[LoadedFile, ...] = field(default=())
    kept: bool = True


def load_files(
    folder: Path,
    program: Program,
    files: Sequence[Path],
    *,
    dry_run: bool,
    progress: Callable[[str], None],
) -> LoadResult:
    """Take files into the store, all in one transaction; refused rows are set out.

    Parameters
    ----------
    folder, program
        Program folder, and its program file as read.
    files
        Spreadsheets or text files, in any order.
    dry_run
        Do all the work and tell what would happen, then undo it.
    progress
        Is told what is being done.

    Raises
    ------
    ProgramError, IntakeError, StoreError
        Nothing was taken in; the message says what to mend.
    """
    with open_store(folder, encrypt_records=program.privacy.encrypt_records) as store:
        intakes = read_files(files, program, store.keys, progress)
        with writing(store, keep=not dry_run) as writer:
            progress("Writing")
            loaded = [_load_file(store, writer, intake, folder) for intake in intakes]
        for notice in store.notices:
            progress(notice)
    for one in loaded:
        if one.refused_file is not None and not dry_run and one.load_id is not None:
            write_refused(one.refused_file, one.problems)
    return LoadResult(tuple(loaded), kept=not dry_run)


def _load_file(store: Store, writer: Writer, intake: FileIntake, folder: Path) -> LoadedFile:
    open_rows = store.earlier_refusals(intake.sha256)
    is_known = open_rows is not None
    problems = intake.problems()
    ready = [(rows, rows.good().select("row_number", *rows.columns)) for rows in intake.sheets]
    if open_rows is not None:
        problems = _still_open(problems, open_rows)
        ready = [(rows, _still_open_in(rows, good, open_rows)) for rows, good in ready]
    fates = [writer.count_fates(rows.table, good.drop("row_number")) for rows, good in ready]
    counts = _counts(intake.sheets, fates, problems)
    load_id = None
    if not is_known or any(fate["new"] + fate["corrected"] for fate in fates):
        load_id = writer.begin_load(intake.file, intake.sha256)
        for rows, good in ready:
            writer.write(load_id, rows.table, good.drop("row_number"))
        if not is_known:
            writer.refuse(load_id, problems)
        writer.count(load_id, counts)
    has_file = load_id is not None and not problems.is_empty()
    refused_file = folder / REFUSED_FOLDER / f"{load_id}.csv" if has_file else None
    return LoadedFile(intake.file, load_id, is_known, counts, problems, refused_file, intake.notes)


def _still_open(problems: pl.DataFrame, open_rows: pl.DataFrame) -> pl.DataFrame:
    return problems.join(open_rows, on=["table_name", "sheet", "row_number"], how="semi")


def _still_open_in(rows: Rows, good: pl.DataFrame, open_rows: pl.DataFrame) -> pl.DataFrame:
    here = open_rows.filter((pl.col("table_name") == rows.table) & (pl.col("sheet") == rows.sheet))
    return good.join(here.select("row_number"), on="row_number", how="semi")


def _counts(
    sheets: tuple[Rows, ...], fates: list[dict[str, int]], problems: pl.DataFrame
) -> pl.DataFrame:
    """Set out what became of the rows of each sheet; the counts add up to the rows read."""
    refused = problems.group_by("table_name", "sheet").agg(
        pl.col("row_number").n_unique().cast(pl.Int64).alias("refused_count")
    )
    read = pl.DataFrame(
        {
            "sheet": [rows.sheet for rows in sheets],
            "table_name": [rows.table for rows in sheets],
            "rows_read": [rows.rows_read for rows in sheets],
            "new_count": [fate["new"] for fate in fates],
            "corrected_count": [fate["corrected"] for fate in fates],
            "repeated_count": [rows.repeated_count for rows in sheets],
            "skipped_count": [rows.skipped_count for rows in sheets],
        }
    ).join(refused, on=["table_name", "sheet"], how="left", maintain_order="left")
    others = ("new_count", "corrected_count", "repeated_count", "skipped_count", "refused_count")
    settled = read.with_columns(pl.col("refused_count").fill_null(0))
    unchanged = pl.col("rows_read") - pl.sum_horizontal(others)
    return settled.with_columns(unchanged.alias("unchanged_count"))
