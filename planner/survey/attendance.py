"""The law of who comes: how many of those who hold a place turn up on a day.

Days differ beyond chance, by weather or by place, so the share that comes is a number of each
day's own, drawn from a Beta distribution. What past days tell of that distribution is worked
out exactly on a grid; where there are none, the stated share stands alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import scipy

from planner.arrays import Integers, Numbers

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    Turnout = Any
    """A frozen distribution of scipy: pmf, cdf, sf, ppf."""

PRIOR_BOOKINGS = 20.0
"""The stated share counts as much as so many bookings of the council's own; a round figure,
no source."""

SHARE_NODES = 41
LIKENESS_NODES = np.concatenate([[0.0], np.geomspace(0.003, 0.2, 12)])
"""Correlation of two households of one day. The prior is flat over these nodes: half of it lies
below 0.02, where days hardly differ; no source."""

FEWEST_DAYS_FOR_LIKENESS = 3
"""With fewer days what is said of how they differ is the prior's alone; a round figure, no
source."""

NEGLIGIBLE_WEIGHT = 1e-12


@dataclass(frozen=True)
class AttendanceLaw:
    """How likely it is that some number of the booked come to a day."""

    # nodes of the mean share that comes and of the correlation within a day, shape (nodes,)
    share: Numbers
    likeness: Numbers
    weight: Numbers  # probability of each node, adding up to 1, shape (nodes,)
    # past days the law rests on, and of their places how many were used and held in all
    days_count: int
    came_count: int
    booked_count: int

    @property
    def expected_share(self) -> float:
        """Share of the booked that is expected to come."""
        return float(self.share @ self.weight)

    @property
    def expected_likeness(self) -> float:
        """Correlation of two households of one day, as far as days of record tell of it."""
        told = self.days_count >= FEWEST_DAYS_FOR_LIKENESS
        return float(self.likeness @ self.weight) if told else 0.0

    def beyond_probability(self, booked_count: int, places_count: int) -> float:
        """Probability that more come than there are places."""
        if booked_count <= places_count:
            return 0.0
        beyond = np.arange(places_count + 1, booked_count + 1)
        chances = _pmf(beyond, booked_count, self.share, self.likeness).sum(axis=1)
        return float(self.weight @ chances)

    def most_bookings(self, places_count: int, chance_most: float) -> int:
        """Most bookings with which more come than places with a chance of at most `chance_most`.

        Examples
        --------
        >>> law = attendance_law([], [], stated_share=0.85, prior_bookings=1e9)
        >>> law.most_bookings(50, 0.05)
        54
        """
        # beyond twice the places it is not who comes that must be planned for
        for booked in range(places_count, 2 * places_count):
            if self.beyond_probability(booked + 1, places_count) > chance_most:
                return booked
        return 2 * places_count


def turnout(booked_count: ArrayLike, share: float, likeness: float = 0.0) -> Turnout:
    """Distribution of how many come: binomial, or beta-binomial where days differ.

    Parameters
    ----------
    booked_count
        Households that hold a place; broadcasts.
    likeness
        Correlation of two households of one day.

    Examples
    --------
    >>> [int(turnout(100, 0.85, likeness).ppf(0.95)) for likeness in (0.0, 0.02)]
    [91, 94]
    """
    if likeness <= 0.0 or not 0.0 < share < 1.0:
        return scipy.stats.binom(booked_count, share)
    size = 1.0 / likeness - 1.0
    return scipy.stats.betabinom(booked_count, share * size, (1.0 - share) * size)


def thinned_likeness(share: float, likeness: float, taking_share: float) -> float:
    """Correlation of who takes an item, where those who come take it with some chance.

    Parameters
    ----------
    taking_share
        Share of the booked that come and take it.

    Notes
    -----
    Thinning leaves the covariance of two households r m (1 - m) times (t / m)², t the share that
    takes; over t (1 - t) it is their correlation. With it a beta-binomial has the mean and the
    variance of the thinned law, though not all of its shape.

    Examples
    --------
    >>> round(thinned_likeness(0.8, 0.1, 0.4), 4), thinned_likeness(0.8, 0.1, 0.8)
    (0.0167, 0.1)
    """
    if likeness <= 0.0 or not 0.0 < taking_share < share < 1.0:
        return likeness
    return likeness * (1.0 - share) * taking_share / (share * (1.0 - taking_share))


def attendance_law(
    came_count: ArrayLike,
    booked_count: ArrayLike,
    stated_share: float,
    prior_bookings: float = PRIOR_BOOKINGS,
) -> AttendanceLaw:
    """Learn who comes from past days, from a stated share where there are none.

    Parameters
    ----------
    came_count, booked_count
        Of each past day, households that came and households that held a place, shape (days,).
    stated_share
        Share that comes by the program file.
    prior_bookings
        Bookings that the stated share counts for.

    Notes
    -----
    Of n booked, k come with the beta-binomial probability of mean m and correlation r; r = 0 is
    the binomial. The prior of m is a Beta of mean `stated_share` and weight `prior_bookings`, of
    r flat over its nodes, and the posterior is summed over the grid. Without past days r is
    taken as 0: nothing tells yet that days differ. The law is then binomial mixed over what is
    not known of m, itself a beta-binomial.

    References
    ----------
    Golub and Welsch (1969), Calculation of Gauss quadrature rules, Mathematics of Computation
    23, 221 to 230 (from memory).

    Skellam (1948), A probability distribution derived from the binomial distribution by
    regarding the probability of success as variable between the sets of trials, Journal of the
    Royal Statistical Society B 10, 257 to 261 (from memory).

    Examples
    --------
    >>> law = attendance_law([40, 42], [50, 50], stated_share=0.85)
    >>> round(law.expected_share, 2)
    0.82
    """
    came = np.atleast_1d(np.asarray(came_count, dtype=np.int64))
    booked = np.atleast_1d(np.asarray(booked_count, dtype=np.int64))
    alike = LIKENESS_NODES if len(booked) else np.zeros(1)
    shares, prior = _share_nodes(came, booked, stated_share, prior_bookings)
    share, likeness = (grid.ravel() for grid in np.meshgrid(shares, alike, indexing="ij"))
    log_weight = np.repeat(prior, len(alike))
    for one, of in zip(came, booked, strict=True):  # days, not households
        log_weight = log_weight + np.log(_pmf(np.array([one]), int(of), share, likeness)[:, 0])
    weight = np.exp(log_weight - scipy.special.logsumexp(log_weight))
    kept = weight > NEGLIGIBLE_WEIGHT
    weight = weight[kept] / weight[kept].sum()
    return AttendanceLaw(
        share[kept], likeness[kept], weight, len(booked), int(came.sum()), int(booked.sum())
    )


def _share_nodes(
    came: Integers, booked: Integers, stated: float, weight: float
) -> tuple[Numbers, Numbers]:
    """Put nodes where the mean share may lie, with the logarithm of their prior weight.

    They are those of the Beta that the most alike days would leave, which reaches as far as
    the posterior does; the prior's weight is put on them by the ratio of the two densities.
    """
    if stated >= 1.0:
        return np.ones(1), np.zeros(1)
    first, second = weight * stated, weight * (1.0 - stated)
    alike = 1.0 + LIKENESS_NODES[-1] * (float(booked.max(initial=1)) - 1.0)
    told_first, told_second = float(came.sum()) / alike, float((booked - came).sum()) / alike
    nodes, weights = _beta_nodes(first + told_first, second + told_second)
    ratio = -told_first * np.log(nodes) - told_second * np.log1p(-nodes)
    return nodes, np.log(np.maximum(weights, 1e-300)) + ratio


def _beta_nodes(first: float, second: float) -> tuple[Numbers, Numbers]:
    """Nodes and weights of Gauss and Jacobi for a Beta distribution, by Golub and Welsch (1969).

    Sums over them are exact for polynomials of a degree below twice their number, as is the
    binomial in its share. Written out here since weights of a narrow Beta overflow elsewhere.
    """
    left, right = second - 1.0, first - 1.0
    place = np.arange(SHARE_NODES, dtype=np.float64)
    total = 2.0 * place + left + right
    with np.errstate(invalid="ignore", divide="ignore"):
        middle = (right**2 - left**2) / (total * (total + 2.0))
        step = place * (place + left) * (place + right) * (place + left + right)
        spread = 4.0 * step / (total**2 * (total + 1.0) * (total - 1.0))
    middle[0] = (right - left) / (left + right + 2.0)
    spread[1] = (
        4.0 * (1.0 + left) * (1.0 + right) / ((2.0 + left + right) ** 2 * (3.0 + left + right))
    )
    values, vectors = scipy.linalg.eigh_tridiagonal(middle, np.sqrt(spread[1:]))
    nodes = np.clip((values + 1.0) / 2.0, 1e-12, 1.0 - 1e-12)
    return nodes, vectors[0] ** 2


def _pmf(came: Integers, booked_count: int, share: Numbers, likeness: Numbers) -> Numbers:
    """Probability of each number that comes, at each node, shape (nodes, numbers)."""
    differs = (likeness > 0.0) & (share > 0.0) & (share < 1.0)
    found = np.empty((len(share), len(came)))
    found[~differs] = scipy.stats.binom.pmf(came[None, :], booked_count, share[~differs, None])
    if differs.any():
        size = (1.0 / likeness[differs] - 1.0)[:, None]
        first, second = share[differs, None] * size, (1.0 - share[differs, None]) * size
        found[differs] = scipy.stats.betabinom.pmf(came, booked_count, first, second)
    return np.asarray(np.maximum(found, 1e-300))
