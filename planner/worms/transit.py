"""Losses of live worms on the way and in store, and what a supplier's record tells of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import scipy

from planner.arrays import Numbers

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

REFERENCE_DAYS = 3.0
"""Days on the way for which the allowance (factor transit_loss_share) is meant; judgement."""

PRIOR_BAGS = 40.0
"""The allowance weighs as much as this many kilogram bags of own record; judgement."""

BAG_CORRELATION = 0.02
"""Likeness of bags of one delivery; with the allowance of 0.02 it gives single deliveries
that lose up to 0.1, the upper end of factor transit_loss_share; judgement."""

MILD_BELOW_C, DOUBLING_C = 20.0, 10.0
"""Losses rise with heat above the mild end, twofold every ten degrees; judgement after the
rule of thumb that rates of life double in ten degrees."""

NODES = 64
"""Equally likely losses by which a law of losses is stood for."""


@dataclass(frozen=True)
class LossLaw:
    """Beta law of the share of a delivery that is dead on arrival."""

    mean_share: float  # expected share lost
    # parameters of the law of a single delivery; alpha 0 means that nothing is lost
    alpha: float
    beta: float
    # what the supplier's record holds; 0 where the allowance stands alone
    deliveries_count: int
    received_kg: float

    def nodes(self) -> Numbers:
        """Equally likely shares lost, shape (NODES,), whose mean is the law's."""
        if self.alpha <= 0.0:
            return np.zeros(1)
        middles = (np.arange(NODES) + 0.5) / NODES
        shares = scipy.stats.beta.ppf(middles, self.alpha, self.beta)
        return np.asarray(np.clip(shares * self.mean_share / shares.mean(), 0.0, 1.0))


def allowance_share(loss_share: float, transit_days: float) -> float:
    """Scale the allowance to a number of days on the way, from that for three days.

    Examples
    --------
    >>> round(allowance_share(0.02, 6.0), 4)
    0.0396
    """
    return float(1.0 - (1.0 - loss_share) ** (transit_days / REFERENCE_DAYS))


def loss_law(allowance: float, received_kg: ArrayLike = (), dead_kg: ArrayLike = ()) -> LossLaw:
    """Law of a supplier's losses: the allowance, and its own deliveries once there are any.

    Bags of a kilogram are counted as dead or alive; those of one delivery are alike, so a
    delivery of N bags tells as much as N / (1 + (N − 1) ρ) single ones.

    Parameters
    ----------
    allowance
        Share expected to be lost before anything is known of the supplier.
    received_kg, dead_kg
        Its deliveries: mass that came and mass of that which was dead, shape (deliveries,).

    Returns
    -------
    LossLaw
        Of a single delivery: mean of the posterior, spread by what is not known of the
        mean and by what deliveries differ.

    Notes
    -----
    θ ~ Beta(m μ, m (1 − μ)) with m = PRIOR_BAGS; posterior with effective counts; a
    delivery's share has variance Var θ + ρ E[θ(1 − θ)], matched by a beta law.

    References
    ----------
    Kish (1965), Survey Sampling, section 5.4, effective size of a cluster sample (from
    memory); the beta-binomial form is standard.

    Examples
    --------
    >>> loss_law(0.02).mean_share, round(loss_law(0.02, [20.0] * 9, [1.0] * 9).mean_share, 3)
    (0.02, 0.043)
    """
    received, dead = (np.asarray(kg, dtype=np.float64) for kg in (received_kg, dead_kg))
    some = received > 0.0
    received, dead = received[some], dead[some]
    bags = received / (1.0 + np.maximum(received - 1.0, 0.0) * BAG_CORRELATION)
    share = dead / received
    alpha = PRIOR_BAGS * allowance + float(np.sum(bags * share))
    beta = PRIOR_BAGS * (1.0 - allowance) + float(np.sum(bags * (1.0 - share)))
    weight = alpha + beta
    mean = alpha / weight
    spread = mean * (1.0 - mean)
    of_mean = spread / (weight + 1.0)
    variance = of_mean + BAG_CORRELATION * (spread - of_mean)
    precision = spread / variance - 1.0 if variance > 0.0 else 0.0
    alpha, beta = mean * precision, (1.0 - mean) * precision
    return LossLaw(mean, alpha, beta, len(received), float(received.sum()))


def heat_multiplier(warmest_c: ArrayLike) -> Numbers:
    """How many times a mild day's loss a day on the way costs, by its warmest hour.

    Examples
    --------
    >>> heat_multiplier([12.0, 20.0, 30.0]).tolist()
    [1.0, 1.0, 2.0]
    """
    over = np.maximum(np.asarray(warmest_c, dtype=np.float64) - MILD_BELOW_C, 0.0)
    return np.asarray(np.exp2(over / DOUBLING_C))


def survival_share(
    lost_share: ArrayLike,
    day_warmest_c: ArrayLike,
    holding_loss_share_per_day: float,
    held_days: ArrayLike,
) -> Numbers:
    """Share of the mass sent that is alive at the hand-over.

    Parameters
    ----------
    lost_share
        Share lost on the way in mild weather, any shape.
    day_warmest_c
        Warmest hour of each day on the way [°C], shape (days,).
    holding_loss_share_per_day
        Share of the living that dies in a day of holding.
    held_days
        Days between arrival and hand-over; broadcasts with `lost_share`.

    Notes
    -----
    (1 − x)^f (1 − h)^d, f the mean heat multiplier of the days on the way.

    Examples
    --------
    >>> round(float(survival_share(0.02, [15.0, 16.0], 0.01, 2)), 4)
    0.9605
    """
    days = np.asarray(day_warmest_c, dtype=np.float64)
    factor = float(heat_multiplier(days).mean()) if days.size else 1.0
    alive = (1.0 - np.asarray(lost_share, dtype=np.float64)) ** factor
    return np.asarray(alive * (1.0 - holding_loss_share_per_day) ** np.asarray(held_days))
