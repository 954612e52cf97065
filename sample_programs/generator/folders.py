"""An officer's folder: program.toml, spreadsheets with some wrong rows, truth.toml."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from planner.program import label_of_date
from sample_programs.generator.boundaries import BOUNDARIES_FILE, boundaries_text
from sample_programs.generator.mistake_lists import MISTAKES
from sample_programs.generator.mistakes import marked_column, rows_with_mistakes
from sample_programs.generator.records import records_with_contacts
from sample_programs.generator.simulation import simulate
from sample_programs.generator.spreadsheets import (
    WORKBOOKS,
    file_and_sheet,
    write_csv,
    write_workbook,
)
from sample_programs.generator.text_files import program_text, truth_text
from sample_programs.generator.truth import true_figures

if TYPE_CHECKING:
    from pathlib import Path

    from sample_programs.generator.mistakes import Mistake, Row, Tables
    from sample_programs.generator.towns import Town

_WRITTEN_AS = {"valdorra": "csv"}
_NOTES = {
    "port_marrow": [
        "Worm-bin giveaway, Port Marrow (an invented council).",
        "One line for each record. Dates as day/month/year, masses in kilograms.",
    ]
}


def written_as(town: Town) -> str:
    """Say whether a town keeps workbooks or CSV files."""
    return _WRITTEN_AS.get(town.folder, "workbooks")


def write_town(town: Town, folder: Path, seed: int) -> list[Path]:
    """Simulate a town and write its folder; name the files written."""
    simulation = simulate(town, seed)
    tables = records_with_contacts(simulation)
    mistakes = MISTAKES[town.folder]
    rows = {table: rows_with_mistakes(table, tables, mistakes, town.tag, seed) for table in tables}
    folder.mkdir(parents=True, exist_ok=True)
    paths = _write_spreadsheets(town, folder, rows)
    texts = {
        "program.toml": program_text(town),
        BOUNDARIES_FILE: boundaries_text(town, seed),
        "truth.toml": truth_text(
            town,
            seed,
            true_figures(simulation),
            program_cost(town, tables["costs"]),
            good_rows(tables, mistakes),
            wrong_rows(town, mistakes),
        ),
    }
    for name, text in texts.items():
        (folder / name).write_bytes(text.encode())
    return [*paths, *(folder / name for name in texts)]


def _write_spreadsheets(town: Town, folder: Path, rows: dict[str, list[Row]]) -> list[Path]:
    if written_as(town) == "csv":
        for table, lines in rows.items():
            write_csv(folder / f"{table}.csv", table, lines)
        return [folder / f"{table}.csv" for table in rows]
    for name, tables in WORKBOOKS.items():
        sheets = {table: rows[table] for table in tables}
        write_workbook(folder / name, sheets, _NOTES.get(town.folder, []))
    return [folder / name for name in WORKBOOKS]


def program_cost(town: Town, costs: pl.DataFrame) -> pl.DataFrame:
    """Sum the ledger by reporting year; receipts are negative."""
    first_month = town.council.first_month
    labels = [label_of_date(day, first_month) for day in costs["cost_date"].to_list()]
    by_year = costs.group_by(pl.Series("reporting_year", labels), maintain_order=True)
    return by_year.agg(program_cost=pl.col("amount").sum().round(2))


def good_rows(tables: Tables, mistakes: tuple[Mistake, ...]) -> dict[str, int]:
    """Count the rows of each table that must be taken in."""
    lost = {
        table: sum(len(m.values) for m in mistakes if m.table == table and m.is_real_row_lost)
        for table in tables
    }
    return {table: frame.height - lost[table] for table, frame in tables.items()}


def wrong_rows(town: Town, mistakes: tuple[Mistake, ...]) -> list[dict[str, object]]:
    """List what is wrong, by file, table, kind and column."""
    listed: list[dict[str, object]] = []
    for mistake in mistakes:
        file, sheet = file_and_sheet(mistake.table, written_as(town))
        listed.append(
            {
                "file": file,
                "sheet": sheet,
                "table": mistake.table,
                "kind": mistake.kind,
                "column": marked_column(mistake),
                "rows_count": len(mistake.values),
                "is_refused": mistake.is_refused,
                "is_real_row_lost": mistake.is_real_row_lost,
            }
        )
    return listed
