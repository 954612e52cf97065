"""Models and worm deliveries with more failures than chance allows: an exact test."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
import scipy

from planner.arrays import Integers, Numbers, quotient
from planner.messages import say, spoken
from planner.rounding import rounded

if TYPE_CHECKING:
    from collections.abc import Iterator


ONE_IN_MOST = 1_000_000
"""Odds are not told more closely than this."""

PER_CENT_FROM = 0.01

FALSE_ALARM_SHARE = 0.05
"""Chance of any false alarm among all models, and among all deliveries, of one look."""

TIMES = (2.0, 3.0)
"""How many times as often as the others a lot fails, where the chance of an alert is told."""


def find_alerts(lots: pl.DataFrame) -> pl.DataFrame:
    """Test each lot against the others of its kind, corrected for looking at many.

    Parameters
    ----------
    lots
        Rows of the query failures_by_lot: lot_kind, lot_id, bins_count, failed_count.

    Returns
    -------
    DataFrame
        The rows with expected_count (at the rate of the others), chance (of so many failures
        or more, were the lot like the others), corrected (by Holm within the kind), is_alert,
        and power_2, power_3: chance of an alert where it fails twice or three times as often.

    Notes
    -----
    Given all failures of a kind, those of a lot follow the hypergeometric law where lots are
    alike: Fisher's exact test, one-sided. Each bin is watched for the same time, and a bin
    counts once its time is over, so a delivery is judged on the same bins whenever one looks.

    References
    ----------
    Fisher, R.A. (1935), The logic of inductive inference, Journal of the Royal Statistical
    Society 98, 39-82. Holm, S. (1979), A simple sequentially rejective multiple test
    procedure, Scandinavian Journal of Statistics 6, 65-70 (both from memory).
    """
    judged = [_of_kind(one) for one in lots.partition_by("lot_kind", maintain_order=True)]
    return pl.concat(judged) if judged else lots


def _of_kind(lots: pl.DataFrame) -> pl.DataFrame:
    bins, failed = (lots[name].to_numpy() for name in ("bins_count", "failed_count"))
    chance = more_than_chance(bins, failed)
    corrected = holm(chance)
    others = bins.sum() - bins
    rate = quotient(failed.sum() - failed, others)
    powers = {
        f"power_{times:.0f}": [_power(lots, place, times) for place in range(lots.height)]
        for times in TIMES
    }
    return lots.with_columns(
        expected_count=pl.Series(rate * bins),
        chance=pl.Series(chance),
        corrected=pl.Series(corrected),
        is_alert=pl.Series((corrected <= FALSE_ALARM_SHARE) & (lots.height > 1)),
        **{name: pl.Series(values, dtype=pl.Float64) for name, values in powers.items()},
    )


def more_than_chance(bins: Integers, failed: Integers) -> Numbers:
    """Chance of so many failures or more in each lot, given the failures of all, shape (lots,).

    Examples
    --------
    Fisher's tea: of eight cups four are chosen, and three of them rightly.

    >>> more_than_chance(np.array([4, 4]), np.array([3, 1])).round(4).tolist()
    [0.2429, 0.9857]
    """
    return np.asarray(scipy.stats.hypergeom.sf(failed - 1, bins.sum(), failed.sum(), bins))


def holm(chances: Numbers) -> Numbers:
    """Correct chances for how many there are, so that any false alarm is as rare as asked.

    Examples
    --------
    >>> holm(np.array([0.01, 0.04, 0.03])).round(3).tolist()
    [0.03, 0.06, 0.06]
    """
    order = np.argsort(chances, kind="stable")
    steps = chances[order] * np.arange(len(chances), 0, -1)
    corrected = np.empty(len(chances))
    corrected[order] = np.minimum(np.maximum.accumulate(steps), 1.0)
    return corrected


def _power(lots: pl.DataFrame, place: int, times: float) -> float:
    """Chance that a lot is found, failing so many times as often as the others did.

    By Bonferroni's bound, which Holm's steps never miss: a little less than the real chance.
    """
    bins, failed = (lots[name].to_numpy() for name in ("bins_count", "failed_count"))
    lot_bins, others = int(bins[place]), int(bins.sum() - bins[place])
    failed_of_others = int(failed.sum() - failed[place])
    if not others or not failed_of_others:
        return 0.0
    counts = np.arange(lot_bins + 1)
    chances = scipy.stats.hypergeom.sf(
        counts - 1, lot_bins + others, failed_of_others + counts, lot_bins
    )
    found = chances <= FALSE_ALARM_SHARE / lots.height
    rate = min(1.0, times * failed_of_others / others)
    return float(scipy.stats.binom.pmf(counts[found], lot_bins, rate).sum())


KINDS = {"model": "model", "worm delivery": "delivery"}
"""Kinds of lots, and what stands for them in keys of words."""


def lot_lines(lots: pl.DataFrame) -> Iterator[str]:
    """Say for each kind which lots fail too often, by which test, and what it can find.

    Parameters
    ----------
    lots
        Frame of `failure_alert.find_alerts`, with lot_name.
    """
    for lot_kind, kind in KINDS.items():
        mine = lots.filter(lot_kind=lot_kind)
        if mine.height < 2:
            yield say(f"alerts.too_few.{kind}")
            continue
        yield from _alerts(mine, kind)
        yield _can_find(mine, kind)
    yield say("alerts.test", share=spoken().share(FALSE_ALARM_SHARE))


def _alerts(mine: pl.DataFrame, kind: str) -> Iterator[str]:
    found = mine.filter("is_alert").sort("corrected")
    if found.is_empty():
        yield say(f"alerts.none.{kind}", count=mine.height)
    for row in found.iter_rows(named=True):
        yield say(
            f"alerts.alert.{kind}",
            name=row["lot_name"],
            failed=row["failed_count"],
            bins=row["bins_count"],
            expected=spoken().number(row["expected_count"], 1),
            chance=_odds(row["corrected"]),
        )


def _can_find(mine: pl.DataFrame, kind: str) -> str:
    """Chance that the middle lot would be found, were it to fail two or three times as often."""
    twice, thrice = (float(np.median(mine[f"power_{times:.0f}"].to_numpy())) for times in TIMES)
    share = spoken().share
    return say(f"alerts.can_find.{kind}", twice=share(twice), thrice=share(thrice))


def _odds(chance: float) -> str:
    """Write a chance in per cent, or as one in so many where it is small.

    Examples
    --------
    >>> _odds(0.034), _odds(0.0021), _odds(2.1e-07)
    ('3%', 'about 1 in 500', 'less than 1 in a million')
    """
    if chance >= PER_CENT_FROM:
        return spoken().share(chance)
    if chance * ONE_IN_MOST < 1.0:
        return say("odds.least")
    one_in = 1.0 / chance
    return say("odds.one_in", count=int(rounded(one_in, -math.floor(math.log10(one_in)))))
