"""Methane of waste in a landfill by first-order decay, by year and by month.

Deposits have time on their last axis. A factor is a scalar or has draws on its only axis;
against deposits of shape (draws, time) or (time,) it gives results of shape (draws, time).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import signal

from planner.units import METHANE_PER_CARBON, MONTHS_PER_YEAR

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

AFTER_DEPOSIT_YEAR = MONTHS_PER_YEAR + 1
"""Start month M of the Guidelines' default: decay begins with the next year."""


@dataclass(frozen=True)
class Decay:
    """How fast deposited waste turns to methane, and what becomes of it on the way up.

    Parameters
    ----------
    rate_per_year
        First-order rate k, scalar or (draws,) [1/year].
    delay_months
        From the start of the month (or year) of deposit to the start of decay, scalar or
        (draws,) [months].
    oxidised_share
        Share of the methane that passes the wells and is oxidised in the cover.
    capture_from_age_years
        Ages at which the captured share steps, rising from 0, shape (steps,) [years].
    captured_share
        Share captured from each age on, shape (steps,) or (draws, steps).
    """

    rate_per_year: ArrayLike
    delay_months: ArrayLike = 0.0
    oxidised_share: ArrayLike = 0.0
    capture_from_age_years: ArrayLike = (0.0,)
    captured_share: ArrayLike = (0.0,)

    def decayed_share(self, age_months: ArrayLike) -> Floats:
        """Share of the decomposing carbon that has decayed at an age.

        Parameters
        ----------
        age_months
            Months since the start of the month of deposit, any shape (..., ages).

        Returns
        -------
        ndarray
            Share 0 to 1, shape (..., ages), or (draws, ..., ages) where a factor is drawn.

        Notes
        -----
        1 − exp(−k/12 · max(0, age − delay)): equations 3.4 and 3.5 summed over the months
        since deposit. A delay of 0 lets waste decay in its own month from the first day on,
        as the monthly form of the clean development mechanism's tool has it.

        References
        ----------
        ipcc_2006_v5_ch3, equations 3.4, 3.5 and annex 3A1; cdm_tool04, monthly form.

        Examples
        --------
        >>> float(Decay(0.185, delay_months=12).decayed_share(24).round(6))
        0.168896
        """
        age = np.asarray(age_months, dtype=np.float64)
        rate, delay = _against(self.rate_per_year, age), _against(self.delay_months, age)
        active_years = np.maximum(0.0, age - delay) / MONTHS_PER_YEAR
        return np.asarray(-np.expm1(-rate * active_years))

    def emitted_share(self, age_months: ArrayLike) -> Floats:
        """Share of the methane potential that has reached the air at an age.

        Recovery comes off before oxidation. What decays while the waste is between two
        steps of the schedule is captured at that step's share.

        Parameters
        ----------
        age_months
            Months since the start of the month of deposit, any shape (..., ages).

        Returns
        -------
        ndarray
            Share 0 to 1, shaped as by `decayed_share`.

        Notes
        -----
        (1 − OX) · [D(a) − Σ_j (s_j − s_(j−1)) · max(0, D(a) − D(a_j))], with D the share
        decayed and s_j the share captured from age a_j on.

        References
        ----------
        ipcc_2006_v5_ch3, equation 3.1.

        Examples
        --------
        >>> float(Decay(0.4, oxidised_share=0.1).emitted_share(1200).round(6))
        0.9
        """
        age = np.asarray(age_months, dtype=np.float64)
        decayed = self.decayed_share(age)
        captured = np.zeros_like(decayed)
        steps = np.asarray(self.captured_share, dtype=np.float64)
        rises = np.diff(steps, axis=-1, prepend=0.0)
        ages = np.asarray(self.capture_from_age_years, dtype=np.float64) * MONTHS_PER_YEAR
        for step, step_age in enumerate(ages):
            decayed_before = _against(self.decayed_share(step_age), age)
            rise = _against(rises[..., step], age)
            captured = captured + rise * np.maximum(0.0, decayed - decayed_before)
        kept = 1.0 - _against(self.oxidised_share, age)
        return np.asarray(kept * (decayed - captured))


def methane_potential_kg(
    waste_kg: ArrayLike,
    degradable_carbon_share: ArrayLike,
    decomposing_carbon_share: ArrayLike,
    methane_correction_factor: ArrayLike,
    methane_share_of_gas: ArrayLike,
) -> Floats:
    """Methane that waste can give in the landfill, before recovery and oxidation.

    Parameters
    ----------
    waste_kg
        Wet waste deposited, any shape [kg].
    degradable_carbon_share
        DOC [kg C per kg wet waste].
    decomposing_carbon_share
        DOCf, the share of it that decomposes.
    methane_correction_factor
        MCF, the share of it that decomposes without air.
    methane_share_of_gas
        F, by volume.

    Returns
    -------
    ndarray
        Methane of the arguments' common shape [kg CH4].

    Notes
    -----
    L0 = W · DOC · DOCf · MCF · F · 16/12.

    References
    ----------
    ipcc_2006_v5_ch3, equations 3.2 and 3.3.

    Examples
    --------
    >>> float(methane_potential_kg(1000.0, 0.15, 0.5, 1.0, 0.5))
    50.0
    """
    carbon_kg = (
        np.asarray(waste_kg, dtype=np.float64)
        * np.asarray(degradable_carbon_share)
        * np.asarray(decomposing_carbon_share)
        * np.asarray(methane_correction_factor)
    )
    return np.asarray(carbon_kg * np.asarray(methane_share_of_gas) * METHANE_PER_CARBON)


def yearly_methane_kg(
    potential_kg: ArrayLike,
    decay: Decay,
    *,
    start_month: int = AFTER_DEPOSIT_YEAR,
    years_count: int | None = None,
) -> Floats:
    """Methane to the air in each year from yearly deposits: the inventory's own form.

    Parameters
    ----------
    potential_kg
        Methane potential of each year's deposit, shape (..., years) [kg CH4].
    decay
        Its delay is not used; the start month says when decay begins. Waste of age 0 is
        that of the deposit year.
    start_month
        M, 1 to 13, counted from January of the deposit year: 13 is the Guidelines' default
        of six months after a mean deposit in mid-year, 7 no delay, 1 the form of the clean
        development mechanism's tool.
    years_count
        Years to follow, from the first deposit on; by default as many as deposits.

    Returns
    -------
    ndarray
        Shape (..., years_count) [kg CH4].

    Raises
    ------
    ValueError
        The start month is not in 1 to 13.

    Notes
    -----
    A deposit decays by 1 − exp(−k (13 − M)/12) in its own year (annex 3A1).

    References
    ----------
    ipcc_2006_v5_ch3, equations 3.1 to 3.6 and annex 3A1; cdm_tool04, yearly form.

    Examples
    --------
    >>> yearly_methane_kg([50.0, 0.0, 0.0], Decay(0.185)).round(6).tolist()
    [0.0, 8.444786, 7.018498]
    """
    if not 1 <= start_month <= AFTER_DEPOSIT_YEAR:
        message = f"start_month: found {start_month}, expected 1 to {AFTER_DEPOSIT_YEAR}"
        raise ValueError(message)
    whole_years = Decay(
        decay.rate_per_year,
        float(start_month - 1),
        decay.oxidised_share,
        decay.capture_from_age_years,
        decay.captured_share,
    )
    return _series(potential_kg, whole_years, years_count, MONTHS_PER_YEAR)


def monthly_methane_kg(
    potential_kg: ArrayLike, decay: Decay, *, months_count: int | None = None
) -> Floats:
    """Methane to the air in each month from monthly deposits.

    Each month's deposit counts from the first day of its month; `decay.delay_months` is
    counted from that day, so deposits spread over the month want half a month more.

    Parameters
    ----------
    potential_kg
        Methane potential of each month's deposit, shape (..., months) [kg CH4].
    decay
        Rate, delay, oxidation and capture.
    months_count
        Months to follow, from the first deposit on; by default as many as deposits.

    Returns
    -------
    ndarray
        Shape (..., months_count) [kg CH4].

    Notes
    -----
    Twelve equal monthly deposits give less in the first year than one on its first day
    (9.41% of them decay at k = 0.185 without delay, against 16.89%): each has on average
    half the year to decay.

    References
    ----------
    cdm_tool04, monthly form: k/12 for k, months for years.

    Examples
    --------
    >>> monthly_methane_kg([12.0, 0.0], Decay(0.12)).round(4).tolist()
    [0.1194, 0.1182]
    """
    return _series(potential_kg, decay, months_count, 1)


def methane_between_kg(
    potential_kg: ArrayLike, decay: Decay, from_month: float, to_month: float
) -> Floats:
    """Methane to the air from one moment to another, without the series between.

    Parameters
    ----------
    potential_kg
        Methane potential of each month's deposit, shape (..., months) [kg CH4].
    decay
        Rate, delay, oxidation and capture, as for `monthly_methane_kg`.
    from_month, to_month
        Moments counted from the start of the first month of deposits; 0 and 1200 take the
        first hundred years [months].

    Returns
    -------
    ndarray
        Shape (...) [kg CH4].

    Examples
    --------
    >>> float(methane_between_kg([12.0, 0.0], Decay(0.12), 0, 2).round(4))
    0.2376
    """
    potential = np.asarray(potential_kg, dtype=np.float64)
    months = np.arange(potential.shape[-1], dtype=np.float64)
    emitted = decay.emitted_share(np.maximum(0.0, to_month - months))
    emitted = emitted - decay.emitted_share(np.maximum(0.0, from_month - months))
    return np.asarray(np.einsum("...m,...m->...", potential, emitted))


def _series(
    potential_kg: ArrayLike, decay: Decay, steps_count: int | None, months_per_step: int
) -> Floats:
    """Convolve deposits with what each age gives, along the last axis.

    By Fourier transform: rounding is some 1e-16 of the largest value, so a sum that should
    be nothing may come out as that, and is never let below nothing.
    """
    potential = np.asarray(potential_kg, dtype=np.float64)
    count = potential.shape[-1] if steps_count is None else steps_count
    ages = np.arange(count + 1, dtype=np.float64) * months_per_step
    by_age = np.diff(decay.emitted_share(ages), axis=-1)
    leading = (1,) * (max(potential.ndim, by_age.ndim) - 1)
    deposits = potential[..., :count]
    deposits = deposits.reshape(leading[deposits.ndim - 1 :] + deposits.shape)
    by_age = by_age.reshape(leading[by_age.ndim - 1 :] + by_age.shape)
    summed = signal.fftconvolve(deposits, by_age, axes=-1)[..., :count]
    return np.asarray(np.maximum(0.0, summed))


def _against(factor: ArrayLike, age: Floats) -> Floats:
    """Give a drawn factor one trailing axis for each axis of `age`."""
    values = np.asarray(factor, dtype=np.float64)
    return values.reshape(values.shape + (1,) * age.ndim) if values.ndim else values
