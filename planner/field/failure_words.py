"""What is said of models and worm deliveries that fail more often than others."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.field.failure_alert import FALSE_ALARM_SHARE, TIMES

if TYPE_CHECKING:
    from collections.abc import Iterator

    import polars as pl

KINDS = {"model": "bin models", "worm delivery": "worm deliveries"}


def lot_lines(lots: pl.DataFrame) -> Iterator[str]:
    """Say for each kind which lots fail too often, by which test, and what it can find.

    Parameters
    ----------
    lots
        Frame of `failure_alert.find_alerts`, with lot_name.
    """
    for kind, words in KINDS.items():
        mine = lots.filter(lot_kind=kind)
        if mine.height < 2:
            yield f"Failures by {words}: fewer than two to set against each other."
            continue
        yield from _alerts(mine, kind, words)
        yield _can_find(mine, kind)
    yield (
        "Test: Fisher's exact test of each against the others of its kind, on bins watched for 90 "
        f"days, corrected by Holm so that any false alarm is {FALSE_ALARM_SHARE:.0%} likely at "
        "most for all models of a look, and likewise for all deliveries. Looking again each month "
        "adds looks: take an alert as a reason to check, not as proof."
    )


def _alerts(mine: pl.DataFrame, kind: str, words: str) -> Iterator[str]:
    found = mine.filter("is_alert").sort("corrected")
    if found.is_empty():
        yield f"Failures by {words}: none of {mine.height} fails more often than chance allows."
    for row in found.iter_rows(named=True):
        yield (
            f"ALERT: {kind} {row['lot_name']}: {row['failed_count']} of {row['bins_count']} bins "
            f"failed within 90 days; {row['expected_count']:.1f} were to be expected (corrected "
            f"chance {row['corrected']:.2g}). Call these households, and tell the supplier."
        )


def _can_find(mine: pl.DataFrame, kind: str) -> str:
    """Chance that the middle lot would be found, were it to fail two or three times as often."""
    twice, thrice = (float(np.median(mine[f"power_{times:.0f}"].to_numpy())) for times in TIMES)
    return (
        f"  A {kind} of middling size that fails twice as often as the others is found with a "
        f"chance of {twice:.0%}, one that fails three times as often with {thrice:.0%}."
    )
