"""Life history of compost worms: growth of one, and the stages of many."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Numbers
from planner.units import DAYS_PER_WEEK, G_PER_KG
from planner.worms.temperature import arrhenius_response, trapezoid_response

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import ArrayLike

    from planner.worms.temperature import TemperaturePoints


FACTOR_IDS = (
    "cocoons_per_adult_week",
    "hatching_share",
    "hatchlings_per_cocoon",
    "incubation_days",
    "maturity_days",
    "adult_life_days",
    "hatchling_mass_g",
    "largest_mass_g",
    "adult_mass_g",
    "growth_rate_per_day",
    "activation_energy_ev",
    "boltzmann_ev_per_k",
    "arrhenius_reference_c",
)
"""Factors of the nursery and worm tables; `doubling_days` of a bed comes beside them."""

REFERENCE_C = 20.0
"""Temperature of the bed at which the published durations were measured [°C]."""

COCOON_STEPS, JUVENILE_STEPS = 5, 6
"""Steps through which a cocoon and a young worm pass, so that few are very early or late."""


def grown_mass_g(
    age_days: ArrayLike,
    rate_per_day: ArrayLike,
    hatchling_mass_g: ArrayLike,
    largest_mass_g: ArrayLike,
) -> Numbers:
    """Mass of a well-fed worm at an age after hatching [g].

    Parameters
    ----------
    age_days
        Days since hatching, any shape that broadcasts with the rest.
    rate_per_day
        Growth rate at the temperature of the bed [1/day].
    hatchling_mass_g, largest_mass_g
        Masses at hatching and at last [g].

    Notes
    -----
    ``dM/dt = k (Mm^(1/3) M^(2/3) - M)``, of which the solution is
    ``M^(1/3) = Mm^(1/3) - (Mm^(1/3) - M0^(1/3)) exp(-k t / 3)``.

    References
    ----------
    johnston_2014, growth; von Bertalanffy (1957) for the form.

    Examples
    --------
    >>> grown_mass_g([0.0, 14.0, 56.0], 0.15, 0.011, 0.5).round(3).tolist()
    [0.011, 0.133, 0.437]
    """
    last, first = np.cbrt(np.asarray(largest_mass_g)), np.cbrt(np.asarray(hatchling_mass_g))
    shrinking = np.exp(-np.asarray(rate_per_day) * np.asarray(age_days, dtype=float) / 3.0)
    return np.asarray((last - (last - first) * shrinking) ** 3)


@dataclass(frozen=True)
class LifeHistory:
    """Rates of one stock of worms at the reference temperature, each of shape (draws,)."""

    # cocoons times hatching share times young in each, before any die [1/day]
    hatchlings_per_adult_day: Numbers
    # share of the hatchlings that live to breed in a worked bed
    hatchlings_surviving_share: Numbers
    # rate at which each step is passed [1/day]
    cocoon_rate_per_day: Numbers
    juvenile_rate_per_day: Numbers
    adult_death_per_day: Numbers  # deaths of adults [1/day]
    # shape (draws, JUVENILE_STEPS + 1): mass of a worm in each step, adults last [kg]
    mass_kg: Numbers
    # daily growth of an uncrowded stock, the one its doubling time stands for
    growth_per_day: Numbers


def life_history(factors: Mapping[str, Numbers], doubling_days: Numbers) -> LifeHistory:
    """Set up a stock that doubles as fast as worked beds do, not as fast as it could.

    The published fecundity alone would double a stock every two to four weeks. Worked beds
    take 60 to 90 days, so most hatchlings die: the surviving share is what makes the stages
    grow at the doubling time given, and a plan rests on that.

    Parameters
    ----------
    factors
        Draws, shape (draws,), of the factors named in FACTOR_IDS.
    doubling_days
        Doubling time of a worked, uncrowded bed, shape (draws,) [days].

    Notes
    -----
    With daily growth g = 2^(1/doubling) - 1 the stages are in balance where
    ``f s / (g + d) (c / (c + g))^5 (j / (j + g))^6 = 1``: f hatchlings an adult and day, s
    their surviving share, d deaths of adults, c and j the rates of the steps. This is the
    Euler-Lotka equation for stages passed in steps.

    References
    ----------
    Lotka (1907), Science 26, 21-22 (the equation). MacDonald, N. (1978), Time Lags in
    Biological Models (stages in steps). munroe_manual (doubling of worked beds).
    """
    growth = np.exp2(1.0 / doubling_days) - 1.0
    young = (
        factors["cocoons_per_adult_week"]
        * factors["hatching_share"]
        * factors["hatchlings_per_cocoon"]
        / DAYS_PER_WEEK
    )
    cocoon = COCOON_STEPS / factors["incubation_days"]
    juvenile = JUVENILE_STEPS / factors["maturity_days"]
    death = 1.0 / factors["adult_life_days"]
    reaching = (cocoon / (cocoon + growth)) ** COCOON_STEPS
    reaching = reaching * (juvenile / (juvenile + growth)) ** JUVENILE_STEPS
    share = (growth + death) / (young * reaching)
    return LifeHistory(
        hatchlings_per_adult_day=young,
        hatchlings_surviving_share=np.minimum(share, 1.0),
        cocoon_rate_per_day=cocoon,
        juvenile_rate_per_day=juvenile,
        adult_death_per_day=death,
        mass_kg=_mass_by_step_kg(factors),
        growth_per_day=growth,
    )


def _mass_by_step_kg(factors: Mapping[str, Numbers]) -> Numbers:
    """Mass in the middle of each step: the published growth curve, scaled to the adult."""
    maturity = factors["maturity_days"][:, None]
    middles = (np.arange(JUVENILE_STEPS) + 1.0 / 2.0) / JUVENILE_STEPS
    ages = np.concatenate([middles * maturity, maturity], axis=1)
    at_reference = _metabolism(REFERENCE_C, factors)
    grown = grown_mass_g(
        ages,
        factors["growth_rate_per_day"][:, None] * at_reference,
        factors["hatchling_mass_g"][:, None],
        factors["largest_mass_g"][:, None],
    )
    adult_g = factors["adult_mass_g"][:, None]
    return np.asarray(grown / grown[:, -1:] * adult_g / G_PER_KG)


def pace(
    bed_temperature_c: ArrayLike, points: TemperaturePoints, factors: Mapping[str, Numbers]
) -> Numbers:
    """How fast life goes at a temperature of the bed, against 20 °C.

    The lower of two published responses: that of metabolism, and that of feeding, which
    ends at the limits of cold and heat. Never above 1, so that no plan rests on a bed that
    is better than the one the doubling time was seen in.

    Parameters
    ----------
    bed_temperature_c
        Shape (days,) [°C].
    points
        Corners of the feeding response, central values.
    factors
        As for `life_history`; central values are used.

    Returns
    -------
    ndarray
        Share 0 to 1, shape (days,).

    References
    ----------
    johnston_2014, temperature function; edwards_2004, Table 18.3; edwards_1995.
    """
    bed = np.asarray(bed_temperature_c, dtype=float)
    reference = float(factors["arrhenius_reference_c"][0])
    metabolism = _metabolism(np.minimum(bed, reference), factors)
    metabolism = metabolism / _metabolism(REFERENCE_C, factors)
    return np.minimum(1.0, np.minimum(metabolism, trapezoid_response(bed, points)))


def _metabolism(bed_c: ArrayLike, factors: Mapping[str, Numbers]) -> Numbers:
    names = ("activation_energy_ev", "boltzmann_ev_per_k", "arrhenius_reference_c")
    return arrhenius_response(bed_c, *(float(factors[name][0]) for name in names))
