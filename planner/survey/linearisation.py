"""Design variance by Taylor linearisation: strata, clusters, finite populations.

What is estimated enters as a linearised variable times the weight, z, whose total has the
variance sought. All sums of squares are of deviations, never a difference of two sums.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import numpy as np

from planner.errors import EstimateError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Numbers = NDArray[np.float64]
    Codes = NDArray[np.int64]

LEAST_UNITS = 2
"""Fewest units in a stratum from which a variance can be taken."""

SingleUnit = Literal["refuse", "certainty", "grand_mean", "average"]
"""What a stratum with one unit adds to a variance.

refuse: an error. certainty: nothing. grand_mean: its distance from the mean of all units.
average: what the other strata add on average.
"""


def summed(place: Codes, values: Numbers, places_count: int) -> Numbers:
    """Add values up by place, shape (places_count,).

    Examples
    --------
    >>> summed(np.array([1, 1]), np.array([2.0, 3.0]), 3).tolist()
    [0.0, 5.0, 0.0]
    """
    return np.asarray(np.bincount(place, values, minlength=places_count), dtype=np.float64)


@dataclass(frozen=True)
class Design:
    """How the rows of a sample were drawn.

    Parameters
    ----------
    stratum
        Shape (n,): stratum of each row, numbered from 0.
    sampling_share
        Shape (strata,): units drawn over units there are; 0 leaves the finite population
        out of account.
    unit
        Shape (n,): what was drawn together, numbered from 0; every row unless given. A
        unit lies in one stratum.
    single_unit
        Rule for strata with one unit.

    Raises
    ------
    EstimateError
        A stratum has one unit and the rule is to refuse, or a unit lies in two strata.
    """

    stratum: Codes
    sampling_share: Numbers
    unit: Codes | None = None
    single_unit: SingleUnit = "refuse"
    unit_stratum: Codes = field(init=False, repr=False)
    units: NDArray[np.int64] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        """Count the units of each stratum."""
        of_unit = self.stratum
        if self.unit is not None:
            of_unit = np.zeros(int(self.unit.max(initial=-1)) + 1, dtype=np.int64)
            of_unit[self.unit] = self.stratum
            if np.any(of_unit[self.unit] != self.stratum):
                message = "a street or round lies in two strata; number it within each"
                raise EstimateError(message)
        object.__setattr__(self, "unit_stratum", of_unit)
        counted = np.bincount(of_unit, minlength=self.sampling_share.size)
        object.__setattr__(self, "units", counted)
        lonely = np.flatnonzero(counted == 1)
        if lonely.size and self.single_unit == "refuse":
            message = (
                f"stratum number {lonely[0]} has one unit; no variance can be taken from it. "
                "Put it together with another."
            )
            raise EstimateError(message)

    @property
    def degrees_of_freedom(self) -> int:
        """Units less strata."""
        return int(self.units.sum() - np.count_nonzero(self.units))

    @property
    def scale(self) -> Numbers:
        """Factor of each stratum's sum of squares, shape (strata,); 0 for a single unit."""
        several = self.units >= LEAST_UNITS
        corrected = (1.0 - self.sampling_share) * self.units
        return np.where(several, corrected / np.maximum(self.units - 1, 1), 0.0)

    def of_units(self, rows: Numbers) -> Numbers:
        """Totals of each unit, shape (units,)."""
        if self.unit is None:
            return rows
        return summed(self.unit, rows, self.unit_stratum.size)


def covariance(z: Numbers, design: Design) -> Numbers:
    """Covariance of several totals under the design.

    Parameters
    ----------
    z
        Shape (n, k): weight times linearised variable of each row.
    design
        How the rows were drawn.

    Returns
    -------
    ndarray
        Shape (k, k).

    Notes
    -----
    ``sum_h (1 - f_h) n_h / (n_h - 1) sum_c (z_hc - mean_h)(z_hc - mean_h)'``.

    References
    ----------
    Saerndal, C.-E., Swensson, B. and Wretman, J. (1992), Model Assisted Survey Sampling,
    sections 3.7, 4.3 and 5.5. Lumley, T. (2010), Complex Surveys, chapter 2.

    Examples
    --------
    >>> design = Design(np.array([0, 0]), np.array([0.0]))
    >>> covariance(np.array([[1.0], [3.0]]), design).round(12).tolist()
    [[4.0]]
    """
    totals = np.column_stack([design.of_units(column) for column in z.T])
    strata = design.sampling_share.size
    mean = np.column_stack(
        [
            np.bincount(design.unit_stratum, column, minlength=strata) / np.maximum(design.units, 1)
            for column in totals.T
        ]
    )
    centred = totals - mean[design.unit_stratum]
    scaled = centred * np.sqrt(design.scale)[design.unit_stratum][:, None]
    lonely = np.flatnonzero(design.units == 1)
    return _with_single_units(scaled.T @ scaled, mean[lonely], totals.mean(axis=0), design, lonely)


def _with_single_units(
    several: Numbers, alone: Numbers, grand_mean: Numbers, design: Design, lonely: Codes
) -> Numbers:
    """Add what strata with one unit add by the design's rule."""
    if not lonely.size or design.single_unit == "certainty":
        return several
    if design.single_unit == "grand_mean":
        away = (alone - grand_mean) * np.sqrt(1.0 - design.sampling_share[lonely])[:, None]
        return several + away.T @ away
    strata = np.count_nonzero(design.units)
    return several * (strata / (strata - lonely.size))


def domain_variances(z: Numbers, domain: Codes, domains_count: int, design: Design) -> Numbers:
    """Variances of the totals of domains that do not overlap, in one pass.

    Rows outside a domain stay in its sample with zero.

    Parameters
    ----------
    z
        Shape (n, k): weight times linearised variable of each row's own domain.
    domain
        Shape (n,): domain of each row, numbered from 0; -1 for none.
    domains_count
        Domains.
    design
        How the rows were drawn.

    Returns
    -------
    ndarray
        Shape (domains, k).

    Notes
    -----
    With n units in the stratum of which m have rows in the domain, mean a of those m and
    mean b of all n, the sum of squares is ``sum_m (z - a)² + m (a - b)² + (n - m) b²``.

    Examples
    --------
    >>> design = Design(np.array([0, 0, 0]), np.array([0.0]))
    >>> z = np.array([[1.0], [3.0], [5.0]])
    >>> domain_variances(z, np.array([0, 0, -1]), 1, design).round(6).tolist()
    [[7.0]]
    """
    cells, cell_totals = _unit_cells(z, domain, domains_count, design)
    strata = design.sampling_share.size
    place, several = cells, strata * domains_count
    filled = np.bincount(place, minlength=several).astype(float)
    units = np.repeat(design.units, domains_count).astype(float)
    variances = np.empty((domains_count, z.shape[1]))
    for k, value in enumerate(cell_totals.T):
        total = np.bincount(place, value, minlength=several)
        own, overall = total / np.maximum(filled, 1.0), total / np.maximum(units, 1.0)
        within = np.bincount(place, (value - own[place]) ** 2, minlength=several)
        squares = within + filled * (own - overall) ** 2 + (units - filled) * overall**2
        by_stratum = squares.reshape(strata, domains_count)
        means = overall.reshape(strata, domains_count)
        variances[:, k] = _summed(by_stratum, means, design)
    return variances


def _unit_cells(
    z: Numbers, domain: Codes, domains_count: int, design: Design
) -> tuple[Codes, Numbers]:
    """Cell of stratum and domain, and total, of each unit that has rows in a domain."""
    if domain.min(initial=0) < 0:
        inside = domain >= 0
        z, domain, stratum = z[inside], domain[inside], design.stratum[inside]
        unit = None if design.unit is None else design.unit[inside]
    else:
        stratum, unit = design.stratum, design.unit
    if unit is None:
        return stratum * domains_count + domain, z
    present, place = np.unique(unit * domains_count + domain, return_inverse=True)
    totals = np.column_stack([summed(place, column, present.size) for column in z.T])
    stratum_of = design.unit_stratum[present // domains_count]
    return stratum_of * domains_count + present % domains_count, totals


def _summed(squares: Numbers, means: Numbers, design: Design) -> Numbers:
    """Variances of the domains, shape (domains,), from the squares of each stratum."""
    several = design.scale @ squares
    lonely = np.flatnonzero(design.units == 1)
    if not lonely.size or design.single_unit == "certainty":
        return np.asarray(several)
    if design.single_unit == "grand_mean":
        grand = (design.units @ means) / design.units.sum()
        away = (means[lonely] - grand) ** 2
        return np.asarray(several + (1.0 - design.sampling_share[lonely]) @ away)
    strata = np.count_nonzero(design.units)
    return np.asarray(several * (strata / (strata - lonely.size)))


def domain_degrees_of_freedom(domain: Codes, domains_count: int, design: Design) -> Codes:
    """Units less strata of the strata in which a domain has rows, shape (domains,).

    Examples
    --------
    >>> design = Design(np.array([0, 0, 0, 1, 1]), np.zeros(2))
    >>> domain_degrees_of_freedom(np.array([0, 0, 0, 0, 1]), 2, design).tolist()
    [3, 1]
    """
    inside = domain >= 0
    cell = design.stratum[inside] * domains_count + domain[inside]
    strata = design.sampling_share.size
    there = np.bincount(cell, minlength=strata * domains_count).reshape(strata, domains_count) > 0
    return np.asarray((np.maximum(design.units - 1, 0)[:, None] * there).sum(axis=0))


def calibration_residuals(values: Numbers, known: Numbers, base_weights: Numbers) -> Numbers:
    """Residuals of variables on those whose totals are known: what calibration leaves.

    Their weighted totals have the variance of the calibrated estimate; they are weighed
    with the calibrated weights, the regression with the base weights.

    Parameters
    ----------
    values
        Shape (n, k): linearised variables.
    known
        Shape (n, p): variables whose totals were met.
    base_weights
        Shape (n,): weights before calibration.

    Returns
    -------
    ndarray
        Shape (n, k).

    References
    ----------
    Deville, J.-C. and Saerndal, C.-E. (1992), Journal of the American Statistical
    Association 87, 376-382, section 3.

    Examples
    --------
    >>> left = calibration_residuals(np.array([[1.0], [3.0]]), np.ones((2, 1)), np.ones(2))
    >>> left.round(12).tolist()
    [[-1.0], [1.0]]
    """
    root = np.sqrt(base_weights)[:, None]
    coefficients, *_ = np.linalg.lstsq(known * root, values * root, rcond=None)
    return np.asarray(values - known @ coefficients)
