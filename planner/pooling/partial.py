"""Partial pooling: each council's rate, drawn towards the others as far as its survey is weak.

Rates are compared on a scale of their own: log odds for a share, the logarithm for an amount.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import scipy

from planner.arrays import Integers, Numbers
from planner.pooling.contract import RATES, SEED
from planner.survey.small_areas import AreaModel, draw_effects
from planner.survey.streams import random_stream

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from planner.pooling.contract import Export, Rate

    Scale = Callable[[Numbers], Numbers]

FEWEST_COUNCILS = 3
"""With fewer, nothing is known of how councils differ, and none is drawn to another."""

LEAST_VARIANCE = 1e-8


NEAREST_SHARE = 1e-4
"""Shares nearer to 0 or 1 than this count as this near: their log odds are without bounds."""


@dataclass(frozen=True)
class Link:
    """A scale, the way back, and how far councils may differ on it."""

    # functions to the scale and back from it
    forward: Scale
    back: Scale
    # Scale of the half-normal prior of the standard deviation between councils: a judgement. Twice
    # 0.5 on log odds takes a share of 60% to 80 or to 36%; twice 0.3 on the logarithm takes 1 kg to
    # 1.8 or 0.55.
    between_scale: float


def _log_odds(share: Numbers) -> Numbers:
    return np.asarray(scipy.special.logit(np.clip(share, NEAREST_SHARE, 1.0 - NEAREST_SHARE)))


def _share(log_odds: Numbers) -> Numbers:
    return np.asarray(scipy.special.expit(log_odds))


SHARE = Link(_log_odds, _share, 0.5)
AMOUNT = Link(np.log, np.exp, 0.3)


def link_of(name: str) -> Link:
    """Scale of a rate of RATES."""
    return SHARE if RATES[name].unit == "share" else AMOUNT


@dataclass(frozen=True)
class Pooled:
    """One rate over the councils that know it, draws on the first axis of 1 + draws_count."""

    name: str  # one of RATES
    places: Integers  # shape (councils,): places of the councils among the exports
    measured: Numbers  # shape (1 + draws_count, councils): as each measured it
    shrunk: Numbers  # the same, drawn towards the others
    own_weight: Numbers  # shape (councils,): what its own survey counts for, 0 to 1
    mean: Numbers  # shape (1 + draws_count,): of the council in the middle
    # shape (1 + draws_count,): of a council like these that has measured nothing
    new_council: Numbers
    # shape (1 + draws_count,): standard deviation between councils, on the scale of `link_of`
    between_sd: Numbers

    @property
    def chance_above(self) -> Numbers:
        """Shape (councils,): chance that a council lies above the one in the middle."""
        return np.asarray((self.shrunk[1:] > self.mean[1:, None]).mean(axis=0))


def pool_rates(exports: Sequence[Export]) -> dict[str, Pooled]:
    """Pool every rate that enough councils have measured."""
    found = {}
    for name in RATES:
        places = [n for n, export in enumerate(exports) if name in export.rates]
        if len(places) >= FEWEST_COUNCILS:
            rates = [exports[place].rates[name] for place in places]
            found[name] = pool_rate(name, rates, np.array(places), SEED)
    return found


def pool_rate(name: str, rates: Sequence[Rate], places: Integers, seed: int) -> Pooled:
    """Draw councils' rates towards each other and believe something of one more.

    ``y_c = mu + u_c + e_c`` on the scale of `link_of`, with the survey's variance of e_c
    known, u_c normal with one variance between councils, and its standard deviation
    half-normal. Published factors are in error for all councils at once: their part is no
    news of how councils differ, and is added again when all is drawn.

    References
    ----------
    Fay and Herriot (1979), as in `planner.survey.small_areas`. Rubin, D. B. (1981),
    Estimation in parallel randomized experiments, Journal of Educational Statistics 6,
    377-401.
    """
    link = link_of(name)
    own = np.stack([rate.draws for rate in rates], axis=1)
    part = np.stack([rate.factor_part for rate in rates], axis=1)
    councils = len(rates)
    variance = np.maximum([rate.survey_variance for rate in rates], LEAST_VARIANCE)
    model = AreaModel.of(
        link.forward(own[0]),
        np.asarray(variance),
        np.ones((councils, 1)),
        np.arange(councils),
        # one more, of which nothing is known
        councils + 1,
    )
    effects = draw_effects(
        model,
        np.ones((councils + 1, 1)),
        np.arange(councils + 1),
        link.between_scale,
        own.shape[0] - 1,
        random_stream(seed, f"pooled {name}"),
    )
    shared = part.mean(axis=1)
    middle = effects.predictor[:, :councils].mean(axis=1)
    return Pooled(
        name=name,
        places=places,
        measured=own,
        shrunk=link.back(effects.predictor[:, :councils] + part),
        own_weight=effects.own_weight[:councils],
        mean=link.back(middle + shared),
        new_council=link.back(effects.predictor[:, councils] + shared),
        between_sd=effects.between_sd,
    )
