"""What would have been composted anyway, and what was thrown away after all, by household."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sample_programs.generator.streams import stream

if TYPE_CHECKING:
    from sample_programs.generator.towns import Leaking

ANYWAY, THROWN = "would_have_composted_share", "thrown_away_share"
"""Columns of the true shares, named as the questions are."""

_DAYS_A_YEAR = 365.25
_SHARE_STEPS = 10
_LEFT_EMPTY_SHARE = 0.08


def draw_leaks(
    leaking: Leaking, count: int, owner: np.ndarray, use_days: np.ndarray, seed: int
) -> dict[str, np.ndarray]:
    """Draw both shares of every household, of shape (households,); 0 without a bin.

    Parameters
    ----------
    leaking
        How many leak, and how much.
    count
        Households.
    owner, use_days
        Of each bin its household's place, and the days for which it was in use.
    seed
        Fixes the draws.
    """
    rng = stream(seed, "leaks")
    longest = np.zeros(count)
    np.maximum.at(longest, owner, use_days)
    anyway = rng.random(count) < leaking.anyway_households_share
    quits = longest < _DAYS_A_YEAR
    throws = rng.random(count) < np.where(
        quits, leaking.throwing_quitters_share, leaking.throwing_households_share
    )
    has_bin = np.bincount(owner, minlength=count) > 0
    return {
        ANYWAY: has_bin * anyway * rng.uniform(*leaking.anyway_scraps, count),
        THROWN: has_bin * throws * rng.uniform(*leaking.thrown_scraps, count),
    }


def say_share(true_share: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Say a share in tenths, up or down so that rounding has no bias; some say nothing."""
    steps = np.floor(true_share * _SHARE_STEPS + rng.random(true_share.size))
    said = np.round(steps / _SHARE_STEPS, 1)
    said[rng.random(true_share.size) < _LEFT_EMPTY_SHARE] = np.nan
    return said
