"""Delete-one jackknife: each street or household left out once, weighting redone."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.errors import EstimateError
from planner.survey.linearisation import LEAST_UNITS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.survey.linearisation import Design

    Numbers = NDArray[np.float64]


def jackknife_multipliers(design: Design) -> Numbers:
    """Multipliers that turn full-sample weights into those without one unit.

    The others of its stratum are raised by n / (n - 1). Adjustments for response and
    calibration are to be made anew in every replicate.

    Parameters
    ----------
    design
        How the rows were drawn.

    Returns
    -------
    ndarray
        Shape (1 + units, n). Row 0 is all ones; row 1 + u leaves unit u out.

    Raises
    ------
    EstimateError
        A stratum has one unit.

    Notes
    -----
    The rows take 8 (1 + units) n bytes; for more than some thousand units use
    `planner.survey.streamed_bootstrap` or linearisation.

    References
    ----------
    Wolter, K.M. (2007), Introduction to Variance Estimation, section 4.5.

    Examples
    --------
    >>> from planner.survey.linearisation import Design
    >>> design = Design(np.array([0, 0, 0]), np.array([0.0]))
    >>> jackknife_multipliers(design).tolist()[1]
    [0.0, 1.5, 1.5]
    """
    if np.any(design.units == 1):
        message = "a stratum has one unit; it cannot be left out"
        raise EstimateError(message)
    of_unit = design.unit_stratum
    unit = np.arange(of_unit.size) if design.unit is None else design.unit
    raised = design.units / np.maximum(design.units - 1, 1)
    same = of_unit[:, None] == design.stratum[None, :]
    multipliers = np.where(same, raised[of_unit][:, None], 1.0)
    multipliers[unit, np.arange(unit.size)] = 0.0
    return np.concatenate([np.ones((1, unit.size)), multipliers])


def jackknife_variance(estimates: Numbers, design: Design) -> Numbers:
    """Variance from the estimates with each unit left out.

    Parameters
    ----------
    estimates
        Shape (1 + units, ...): with the weights of `jackknife_multipliers`, the full
        sample first. Smooth functions of totals only, not quantiles.
    design
        The same design.

    Returns
    -------
    ndarray
        Shape (...).

    Notes
    -----
    ``sum_h (1 - f_h) (n_h - 1) / n_h sum_c (theta_(hc) - theta)²``.

    Examples
    --------
    >>> from planner.survey.linearisation import Design
    >>> design = Design(np.array([0, 0]), np.array([0.0]))
    >>> jackknife_variance(np.array([4.0, 6.0, 2.0]), design).tolist()
    4.0
    """
    units = np.maximum(design.units, LEAST_UNITS)
    factor = (1.0 - design.sampling_share) * (units - 1) / units
    away = (estimates[1:] - estimates[0]) ** 2
    return np.tensordot(factor[design.unit_stratum], away, axes=1)
