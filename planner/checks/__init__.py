"""Checks: every query of queries/check over the store, the worst first.

A check returns the records that contradict each other or are hard to believe. `wrong`
cannot be true, `doubtful` may be and moves figures, `note` is worth a look. A query gives
facts alone; the words around them are in the message files, under the name of the check.
"""

from __future__ import annotations

import string
from typing import TYPE_CHECKING, Any

import polars as pl

from planner.cells import csv_text
from planner.diversion.counts import DIARY_WINDOW_DAYS
from planner.messages import officer_messages
from planner.paths import CHECKS_FILE, PROGRAM_FILE, REFUSED_FOLDER
from planner.program import open_program
from planner.store.files import write_owned
from planner.store.migrations import utc_now
from planner.store.opening import open_store
from planner.store.queries import folder_queries

if TYPE_CHECKING:
    import datetime as dt
    from pathlib import Path

    from planner.messages import Messages
    from planner.program import Program
    from planner.store.opening import Store

SEVERITIES = ("wrong", "doubtful", "note")
"""What a check says of a record, the worst first."""

COLUMNS: dict[str, pl.DataType] = {
    "severity": pl.Enum(SEVERITIES),
    "check_name": pl.String(),
    "title": pl.String(),
    "table_name": pl.String(),
    "record_key": pl.String(),
    "found": pl.String(),
    "advice": pl.String(),
}

LIMITS = {
    "most_feed_kg": 15.0,
    "most_feed_litres": 30.0,
    "least_worms_kg": 0.1,
    "most_worms_kg": 1.0,
    "least_response_share": 0.3,
    "least_answers": 10,
    "least_same_answers": 5,
}
"""Beyond these a check names a record; common practice, no source.

Scraps of one household in a week, in litres at half a kilogram each; a starter stock of
worms; a round's response; answers that do not all hold the same five shares by chance.
"""


def run_checks(store: Store, program: Program, as_of: dt.date, words: Messages) -> pl.DataFrame:
    """Run every check over the store.

    Parameters
    ----------
    as_of
        Day of the check; what lies ahead of it, as a round still open, is not missed.

    Returns
    -------
    DataFrame
        One row a finding, the worst first: severity, check_name, title, table_name,
        record_key, found, advice. No personal detail stands in it.
    """
    params = _params(program, as_of)
    findings = [
        in_words(store.query(one.name, **{n: params[n] for n in one.params}), one.name, words)
        for one in folder_queries("check")
    ]
    return pl.concat(findings).sort("severity", "check_name", maintain_order=True)


def check(folder: Path, *, as_of: dt.date | None = None) -> tuple[pl.DataFrame, Path]:
    """Find records that contradict each other or are hard to believe, and set them out.

    Raises
    ------
    ProgramError, StoreError
        Something cannot be read, or the file not be written.
    """
    program, day = open_program(folder / PROGRAM_FILE), as_of or utc_now().date()
    with open_store(folder, read_only=True) as store:
        findings = run_checks(store, program, day, officer_messages())
    path = folder / REFUSED_FOLDER / CHECKS_FILE
    write_owned(path, csv_text(findings).encode("utf-8-sig"))
    return findings, path


def count_checks(findings: pl.DataFrame) -> pl.DataFrame:
    """Count the findings of each check: severity, title, advice, rows_count."""
    return findings.group_by("severity", "check_name", "title", maintain_order=True).agg(
        pl.col("table_name").first(),
        pl.col("advice").first(),
        pl.len().cast(pl.Int64).alias("rows_count"),
    )


def in_words(rows: pl.DataFrame, check: str, words: Messages) -> pl.DataFrame:
    """Say what a check found: its facts, put into the words of its name.

    Parameters
    ----------
    rows
        severity, table_name, record_key and the facts; found_as and advice_as name the words
        of a row where a check has several.

    Returns
    -------
    DataFrame
        With the columns `COLUMNS`. Days stay as ISO 8601 has them, which files hold.
    """
    said = {
        "check_name": pl.lit(check),
        "title": pl.lit(words.text(f"check.{check}")),
        **{part: _said(rows, f"check.{check}.{part}", words) for part in ("found", "advice")},
    }
    return rows.select(
        said.get(name, pl.col(name)).cast(kind).alias(name) for name, kind in COLUMNS.items()
    )


def _said(rows: pl.DataFrame, key: str, words: Messages) -> pl.Expr:
    """Fill the words of a key, a row's own where there are several, without a loop over rows."""
    chosen = f"{key.rpartition('.')[2]}_as"
    if chosen not in rows.columns:
        return _filled(rows, words.text(key), words)
    sentence = pl.lit(None, pl.String)
    for name in rows[chosen].unique():
        filled = _filled(rows, words.text(f"{key}.{name}"), words)
        sentence = pl.when(pl.col(chosen) == name).then(filled).otherwise(sentence)
    return sentence


def _filled(rows: pl.DataFrame, text: str, words: Messages) -> pl.Expr:
    mark = words.decimal(0.1, "0.0")[1]
    parts: list[pl.Expr] = []
    for before, name, _, _ in string.Formatter().parse(text):
        parts.append(pl.lit(before))
        if name is not None:
            fact = pl.col(name).cast(pl.String)
            if rows.schema[name].is_float():
                fact = fact.str.strip_suffix(".0").str.replace(".", mark, literal=True)
            parts.append(fact)
    return pl.concat_str(parts)


def _params(program: Program, as_of: dt.date) -> dict[str, Any]:
    labels = [year.reporting_year for year in program.reporting_years]
    days = [program.months(label) for label in labels]
    return {
        "as_of": as_of,
        "currency": program.council.currency,
        "labels": labels,
        "from_dates": [start for start, _ in days],
        "before_dates": [end for _, end in days],
        "diary_window_days": DIARY_WINDOW_DAYS,
        **LIMITS,
    }
