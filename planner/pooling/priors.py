"""What a council that has measured nothing may believe: a block for its program file."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import numpy as np

from planner.figures import INTERVAL_PERCENT
from planner.pooling.contract import FEED, IN_USE, RATES

if TYPE_CHECKING:
    from planner.pooling.pool import Pool

NORMAL_HALF_WIDTH = 1.959964
"""Standard deviations from the mean to the 97.5th percentile of a normal distribution."""

TAKEN = (IN_USE, FEED)
"""Rates that a plan takes as they are; what was landfilled before is asked in each council."""

HEAD = """\
# What {count} councils measured in {label}, for a council like them that has not measured yet.
# Copy into program.toml; `planner size` then plans with it and names this as its source.
# value is the middle, low and high hold it for one more such council in 95 of 100 cases.
"""
SOURCE = "{title}: {count} councils, {label}, planner pool"


def priors_text(pool: Pool) -> str:
    """Write the blocks, one a rate that enough councils have measured; empty where none is.

    An amount is lognormal. A share is given by its mean and 95% limits about it, which
    `planner size` turns into the beta shape of the same mean and variance.
    """
    blocks = [_block(pool, name) for name in RATES if name in pool.rates and name.startswith(TAKEN)]
    if not blocks:
        return ""
    head = HEAD.format(count=len(pool.exports), label=pool.label)
    return "\n".join([head, *blocks])


def _block(pool: Pool, name: str) -> str:
    draws = pool.rates[name].new_council
    if RATES[name].unit == "share":
        shape, value, half = "normal", draws[1:].mean(), NORMAL_HALF_WIDTH * draws[1:].std()
        low, high = value - half, value + half
    else:
        shape, value = "lognormal", np.median(draws[1:])
        low, high = np.percentile(draws[1:], INTERVAL_PERCENT)
    source = SOURCE.format(title=pool.title, count=pool.rates[name].places.size, label=pool.label)
    return (
        f"[sizing.priors.{name}]\n"
        f"value = {value:.3g}\nlow = {low:.3g}\nhigh = {high:.3g}\n"
        f'shape = "{shape}"\nsource = {json.dumps(source, ensure_ascii=False)}\n'
    )
