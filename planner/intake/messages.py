"""Problems in the officer's words, on screen and in a file a spreadsheet opens safely."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING

import polars as pl

from planner.intake.wording import NOT_KEPT

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

PLAIN_REASONS = (
    "not a number",
    "not a whole number",
    "not a date",
    "neither yes nor no",
    "no such code",
    "empty",
)
"""Reasons that what was found and expected already tell."""

_SHOWN_LENGTH = 60
RUNS_IN_A_SPREADSHEET = r"^[\s]*[=+\-@\t\r]"
"""How text begins that a spreadsheet would take for a formula."""


def sentences(problems: pl.DataFrame) -> list[str]:
    """Write each problem as one sentence: where, what was found, what was expected.

    Parameters
    ----------
    problems
        Frame of intake.problems.
    """
    short = pl.col("value").str.replace_all(r"\s+", " ").str.head(_SHOWN_LENGTH)
    found = pl.when(short == "").then(pl.lit("nothing")).otherwise('"' + short + '"')
    is_blanked = (
        (short == "") & (pl.col("reason") != "empty") & pl.col("reason").str.contains(NOT_KEPT)
    )
    sheet = pl.when(pl.col("sheet") != "").then(", sheet " + pl.col("sheet")).otherwise(pl.lit(""))
    why = (
        pl.when(pl.col("reason").is_in(PLAIN_REASONS))
        .then(pl.lit(""))
        .otherwise(", " + pl.col("reason"))
    )
    told = problems.select(
        pl.concat_str(
            "file",
            sheet,
            pl.format(", row {}, {}: found ", "row_number", "column_name"),
            pl.when(is_blanked).then(pl.lit("something")).otherwise(found),
            why,
            pl.lit(", expected "),
            "expected",
        ).alias("sentence")
    )
    return told["sentence"].to_list()


def write_refused(path: Path, problems: pl.DataFrame) -> None:
    """Write every problem to a CSV file that a spreadsheet opens right and cannot run.

    Parameters
    ----------
    path
        File to write; its folder is made.
    problems
        Frame of intake.problems.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    shown = problems.select(
        _safe("file"),
        _safe("sheet"),
        "row_number",
        "column_name",
        _safe("value"),
        _safe("reason"),
        _safe("expected"),
    )
    with written_aside(path) as aside:
        shown.write_csv(aside, include_bom=True)


@contextmanager
def written_aside(path: Path) -> Iterator[Path]:
    """Name a file to write beside the one that is meant, and put it there when whole."""
    aside = path.with_name(f"{path.name}.part")
    try:
        yield aside
        aside.replace(path)
    finally:
        aside.unlink(missing_ok=True)


def _safe(column: str) -> pl.Expr:
    text = pl.col(column)
    runs = text.str.contains(RUNS_IN_A_SPREADSHEET)
    return pl.when(runs).then("'" + text).otherwise(text).alias(column)
