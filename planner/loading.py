"""Loading: files checked by intake are written to the store, in one transaction."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl

from planner.errors import LostCountError
from planner.intake.control import amounts_of, totals_frame
from planner.intake.layout import AMOUNTS
from planner.intake.problems import refused_list
from planner.intake.reading import FileIntake, read_files
from planner.intake.readings import Proposal
from planner.intake.refused_copy import Refused, origins, refused_copy
from planner.intake.rows import Rows
from planner.intake.wording import said
from planner.messages import say
from planner.paths import (
    FOLDER_OF_ITS_OWNER,
    OWNER_ONLY,
    PROGRAM_FILE,
    REFUSED_FOLDER,
    copy_of_refused,
)
from planner.program import open_program
from planner.progress import Progress, no_progress
from planner.store.files import write_whole
from planner.store.opening import Store, open_store
from planner.store.queries import read_query
from planner.store.writing import Writer, writing

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable, Sequence

SHOWN_EXAMPLES = 3


@dataclass(frozen=True)
class LoadedFile:
    """What became of one file."""

    file: str
    load_id: str | None  # its load; None where nothing was new in a file loaded before
    is_known: bool  # the same content was loaded before: only its refused rows were tried again
    # one row a sheet: sheet, table_name, rows_read, new_count, corrected_count, unchanged_count,
    # repeated_count, skipped_count, refused_count
    counts: pl.DataFrame
    problems: pl.DataFrame
    refused_file: Path | None  # CSV file of all problems, where there are any
    copy_file: Path | None  # workbook of the refused rows alone, to be fixed and loaded
    refused: tuple[Refused, ...]
    notes: tuple[str, ...]
    # columns whose cells were read as a person would: table_name, sheet, column_name, kind,
    # cells_count, examples
    readings: pl.DataFrame
    proposals: tuple[Proposal, ...]


@dataclass(frozen=True)
class LoadResult:
    """What became of the files of one command; `kept` is False for a dry run."""

    files: tuple[LoadedFile, ...] = field(default=())
    kept: bool = True


def load_files(
    folder: Path,
    files: Sequence[Path],
    *,
    dry_run: bool = False,
    progress: Progress = no_progress,
    day: dt.date | None = None,
    accepted: frozenset[str] = frozenset(),
    confirm: Callable[[Proposal], bool] | None = None,
) -> LoadResult:
    """Take files into the store, all in one transaction; refused rows are set out.

    Parameters
    ----------
    day
        Day of loading: records of a later day are refused. None asks nothing of days.
    accepted, confirm
        Doubtful ways of reading that the officer has confirmed; who is asked for others.

    Raises
    ------
    ProgramError, IntakeError, StoreError
        Nothing was taken in; the message says what to fix.
    """
    program = open_program(folder / PROGRAM_FILE)
    with open_store(folder, encrypt_records=program.privacy.encrypt_records) as store:
        known = store.keys_and_names
        intakes = read_files(files, program, known, progress, day, accepted)
        if confirm is not None:
            asked = [one for intake in intakes for one in intake.proposals()]
            fresh = {one.name for one in asked if confirm(one)}
            if fresh:
                accepted |= fresh
                intakes = read_files(files, program, known, progress, day, accepted)
        with writing(store, keep=not dry_run) as writer:
            progress(say("load.writing"))
            loaded = [_load_file(store, writer, intake, folder) for intake in intakes]
        if not dry_run:
            # before the store is closed, with which the loads have happened: a command that is
            # killed leaves no load whose refused rows are not there to be fixed
            locale = program.council.country_locale
            loaded = [_set_out(one, locale) for one in loaded]
    return LoadResult(tuple(loaded), kept=not dry_run)


def _load_file(store: Store, writer: Writer, intake: FileIntake, folder: Path) -> LoadedFile:
    open_rows = store.earlier_refusals(intake.sha256)
    is_known = open_rows is not None
    problems = intake.problems()
    ready = [(rows, rows.good().select("row_number", *rows.written)) for rows in intake.sheets]
    if open_rows is not None:
        problems = problems.join(open_rows, on=["table_name", "sheet", "row_number"], how="semi")
        ready = [
            (rows, good.join(_in_sheet(open_rows, rows), on="row_number", how="semi"))
            for rows, good in ready
        ]
    readings = _readings(ready)
    counts, load_id = _written(writer, intake, ready, problems, is_known=is_known)
    if load_id is not None:
        writer.note(load_id, read_query("record_readings"), readings)
    named = load_id or str(store.query("loads_of_content", sha256=intake.sha256)["load_id"][0])
    refused = [Refused(rows, _in_sheet(problems, rows)) for rows in intake.sheets]
    has_problems = not problems.is_empty()
    return LoadedFile(
        file=intake.file,
        load_id=load_id,
        is_known=is_known,
        counts=counts,
        problems=problems,
        refused_file=folder / REFUSED_FOLDER / f"{named}.csv" if has_problems else None,
        copy_file=folder / copy_of_refused(named, intake.file) if has_problems else None,
        refused=tuple(one for one in refused if not one.problems.is_empty()),
        notes=intake.notes,
        readings=readings,
        proposals=tuple(intake.proposals()),
    )


def _readings(ready: list[tuple[Rows, pl.DataFrame]]) -> pl.DataFrame:
    """Count the cells of the rows on their way in that were read as a person would."""
    found = pl.when(pl.col("found") != "").then("found").otherwise(pl.lit(say("faults.nothing")))
    example = said("reading.as", found=found, read=pl.col("read_as"))
    example = example.unique(maintain_order=True)
    counted = [
        rows.readings.join(good.select("row_number"), on="row_number", how="semi")
        .group_by("column_name", "kind", maintain_order=True)
        .agg(
            pl.len().cast(pl.Int64).alias("cells_count"),
            example.head(SHOWN_EXAMPLES).str.join("; ").alias("examples"),
        )
        .select(
            pl.lit(rows.table).alias("table_name"),
            pl.lit(rows.sheet).alias("sheet"),
            pl.all(),
        )
        for rows, good in ready
    ]
    return pl.concat(counted)


def _written(
    writer: Writer,
    intake: FileIntake,
    ready: list[tuple[Rows, pl.DataFrame]],
    problems: pl.DataFrame,
    *,
    is_known: bool,
) -> tuple[pl.DataFrame, str | None]:
    """Write what is new or corrected; return the counts, and the load if there is one."""
    amounts = _amounts(writer, ready, problems)
    fates = [
        _fates_of_sheet(writer, rows, good, _in_sheet(problems, rows), is_known=is_known)
        for rows, good in ready
    ]
    counts = pl.DataFrame(fates)
    if is_known and not counts.select(pl.sum("new_count") + pl.sum("corrected_count")).item():
        return counts, None
    load_id = writer.begin_load(intake.file, intake.sha256)
    for rows, good in ready:
        writer.write(load_id, rows.table, good.drop("row_number"))
        writer.ensure_whole(load_id, rows.table, rows.written, intake.file)
        writer.note(load_id, read_query("resolve_by_row"), origins(rows))
    if not is_known:
        writer.note(load_id, read_query("record_refusals"), problems)
    writer.note(load_id, read_query("record_counts"), counts)
    writer.note(load_id, read_query("record_amounts"), amounts)
    writer.note(load_id, read_query("record_totals"), totals_frame(intake.totals))
    return counts, load_id


def _amounts(
    writer: Writer, ready: list[tuple[Rows, pl.DataFrame]], problems: pl.DataFrame
) -> pl.DataFrame:
    """Set out what the ledger lines of each sheet add up to, by what becomes of them."""
    rows = [
        _amounts_of_sheet(writer, sheet, good, problems)
        for sheet, good in ready
        if sheet.table in AMOUNTS
    ]
    return pl.DataFrame(rows)


def _amounts_of_sheet(
    writer: Writer, sheet: Rows, good: pl.DataFrame, problems: pl.DataFrame
) -> dict[str, str | float | int]:
    lines = amounts_of(sheet)
    new, corrected = writer.amounts_by_fate(good.drop("row_number"))
    here = _in_sheet(problems, sheet).select("row_number")
    refused = lines.filter(pl.col("fate") == "refused").join(here, on="row_number", how="semi")
    repeated = float(lines.filter(pl.col("fate") == "repeated")["amount"].sum())
    whole, refused_amount = float(lines["amount"].sum()), float(refused["amount"].sum())
    return {
        "sheet": sheet.sheet,
        "table_name": sheet.table,
        "lines_amount": whole,
        "new_amount": new,
        "corrected_amount": corrected,
        "unchanged_amount": whole - new - corrected - repeated - refused_amount,
        "repeated_amount": repeated,
        "refused_amount": refused_amount,
        "unread_count": int(refused["amount"].is_null().sum()),
    }


def _set_out(loaded: LoadedFile, locale: str) -> LoadedFile:
    """Write the refused rows for the officer; one already there may be half fixed."""
    listed, copy = loaded.refused_file, loaded.copy_file
    if listed is None or copy is None:
        return loaded
    load_id = listed.stem
    try:
        if not loaded.is_known and copy.exists():
            # of a load of this number that was cut off, or replaced by a backup
            copy.replace(copy.with_stem(f"{copy.stem}_of_another_load"))
        copy.parent.mkdir(mode=FOLDER_OF_ITS_OWNER, exist_ok=True)
        if not listed.exists() or loaded.load_id is not None:
            write_whole(listed, refused_list(loaded.problems), mode=OWNER_ONLY)
        if not copy.exists():
            write_whole(copy, refused_copy(loaded.refused, load_id, locale), mode=OWNER_ONLY)
    except OSError as error:
        why = {"folder": str(copy.parent), "why": error.strerror or ""}
        note = say("load.not_set_out", file=loaded.file, **why)
        gone = replace(loaded, refused_file=None, copy_file=None)
        return replace(gone, notes=(*loaded.notes, note))
    return loaded


def _in_sheet(problems: pl.DataFrame, rows: Rows) -> pl.DataFrame:
    return problems.filter((pl.col("table_name") == rows.table) & (pl.col("sheet") == rows.sheet))


def _fates_of_sheet(
    writer: Writer, rows: Rows, good: pl.DataFrame, problems: pl.DataFrame, *, is_known: bool
) -> dict[str, str | int]:
    """Count what became of the rows of a sheet, each fate by itself.

    None is what is left over from the others, so that a row that got lost is seen: it stops
    the load, and nothing is taken in. In a file that was loaded before, rows that are not open
    any more are unchanged.
    """
    fates = writer.count_fates(rows.table, good.drop("row_number"))
    refused = problems["row_number"].n_unique()
    settled = rows.typed.height - good.height - refused if is_known else 0
    counts = {
        "new_count": fates["new"],
        "corrected_count": fates["corrected"],
        "unchanged_count": fates["unchanged"] + settled,
        "repeated_count": rows.repeated_count,
        "skipped_count": rows.skipped_count,
        "refused_count": refused,
    }
    if sum(counts.values()) != rows.rows_read:
        sums = {"read": rows.rows_read, "told": sum(counts.values())}
        raise LostCountError(say("load.lost_rows", place=rows.source.place, **sums))
    return {
        "sheet": rows.sheet,
        "table_name": rows.table,
        "rows_read": rows.rows_read,
        **counts,
    }
