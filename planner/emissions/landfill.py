"""Methane of waste in a landfill by first-order decay.

Deposits have months on their last axis. A factor is a scalar or has draws on its only axis;
against deposits of shape (draws, months) or (months,) it gives results with draws first.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Numbers
from planner.units import METHANE_PER_CARBON, MONTHS_PER_YEAR

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


@dataclass(frozen=True)
class Decay:
    """How fast deposited waste turns to methane, and what becomes of it on the way up."""

    rate_per_year: ArrayLike  # first-order rate k, scalar or (draws,) [1/year]
    # from the start of the month (or year) of deposit to the start of decay [months], scalar or
    # of shape (draws,)
    delay_months: ArrayLike = 0.0
    # share of the methane that passes the wells and is oxidised in the cover
    oxidised_share: ArrayLike = 0.0
    # ages at which the captured share steps, rising from 0, shape (steps,) [years]
    capture_from_age_years: ArrayLike = (0.0,)
    # share captured from each age on, shape (steps,) or (draws, steps)
    captured_share: ArrayLike = (0.0,)

    def decayed_share(self, age_months: ArrayLike) -> Numbers:
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
        # expm1 keeps the digits of a first month, when 1 - exp(-x) would lose them
        return np.asarray(-np.expm1(-rate * active_years))

    def emitted_share(self, age_months: ArrayLike) -> Numbers:
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
        # the capture of each step is that of all steps before and its own rise, so that what
        # decays after a step's age is captured at the share of the last step reached
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
) -> Numbers:
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


def methane_between_kg(
    potential_kg: ArrayLike,
    decay: Decay,
    moments_months: ArrayLike,
    longest_age_months: float = np.inf,
) -> Numbers:
    """Methane to the air from each moment to the next, of monthly deposits.

    Every published form is a choice of deposits, delay and moments. The inventory's yearly
    form deposits a year's waste at the start of January and waits M - 1 months, M the start
    month (13 by default, 1 in the clean development mechanism's tool); the tool's monthly
    form has a delay of 0. A program's scraps come all through a month, half a month after
    its start on average.

    Parameters
    ----------
    potential_kg
        Methane potential of each month's deposit, shape (..., months) [kg CH4].
    decay
        Rate, delay, oxidation and capture; ages count from the start of the month of
        deposit.
    moments_months
        Moments that do not fall, counted from the start of the first month of deposits,
        shape (moments,); 0 and 1200 take the first hundred years [months].
    longest_age_months
        Age up to which each deposit is followed [months].

    Returns
    -------
    ndarray
        Shape (..., moments - 1) [kg CH4]; the decay's draws on the first axis.

    References
    ----------
    ipcc_2006_v5_ch3, equations 3.1 to 3.6 and annex 3A1; cdm_tool04, yearly and monthly
    form.

    Examples
    --------
    >>> methane_between_kg([50.0], Decay(0.185, 12), [0, 12, 24, 36]).round(6).tolist()
    [0.0, 8.444786, 7.018498]
    """
    potential = np.asarray(potential_kg, dtype=np.float64)
    deposited = np.arange(potential.shape[-1], dtype=np.float64)[:, np.newaxis]
    # before its deposit waste has age 0 and gives nothing; past the longest it gives no more
    ages = np.clip(np.asarray(moments_months) - deposited, 0.0, longest_age_months)
    # shares never fall with age; the last bits of a difference may
    emitted = np.maximum(0.0, np.diff(decay.emitted_share(ages), axis=-1))
    return np.asarray(np.einsum("...m,...mt->...t", potential, emitted))


def _against(factor: ArrayLike, age: Numbers) -> Numbers:
    """Give a drawn factor one trailing axis for each axis of `age`."""
    values = np.asarray(factor, dtype=np.float64)
    return values.reshape(values.shape + (1,) * age.ndim) if values.ndim else values
