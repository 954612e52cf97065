"""Scales on which rates are compared: log odds for a share, the logarithm for an amount."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import expit, logit

from planner.pooling.contract import RATES

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Scale = Callable[[NDArray[np.float64]], NDArray[np.float64]]

NEAREST_SHARE = 1e-4
"""Shares nearer to 0 or 1 than this count as this near: their log odds are without bounds."""


@dataclass(frozen=True)
class Link:
    """A scale, the way back, and how far councils may differ on it.

    Parameters
    ----------
    forward, back
        To the scale and from it.
    between_scale
        Scale of the half-normal prior of the standard deviation between councils: a
        judgement. Twice 0.5 on log odds takes a share of 60% to 80 or to 36%; twice 0.3 on
        the logarithm takes 1 kg to 1.8 or 0.55.
    """

    forward: Scale
    back: Scale
    between_scale: float


def _log_odds(share: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(logit(np.clip(share, NEAREST_SHARE, 1.0 - NEAREST_SHARE)))


SHARE = Link(_log_odds, expit, 0.5)
AMOUNT = Link(np.log, np.exp, 0.3)


def link_of(name: str) -> Link:
    """Scale of a rate of RATES."""
    return SHARE if RATES[name].unit == "share" else AMOUNT
