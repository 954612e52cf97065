"""Feed balance of one household or site: what is fed against what worms can live with."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Numbers
from planner.diversion.feed_share import FACTOR_IDS
from planner.errors import EstimateError
from planner.factors.draws import draw_factors
from planner.figures import INTERVAL_PERCENT
from planner.messages import say
from planner.units import DAYS_PER_WEEK
from planner.worms.bedding import (
    Material,
    Mix,
    bedding_for_moisture_kg,
    bedding_for_ratio_kg,
    material,
    mix,
    water_to_add_kg,
)
from planner.worms.run_in import capacity_kg_per_week
from planner.worms.temperature import TemperaturePoints, bed_temperature_c, trapezoid_response

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from planner.factors import FactorTable


ACID_FEED = ("citrus_peel", "fruit_scraps")
"""Materials that count as acid: citrus peel has a pH near 4, other fruit turns sour as it rots."""

BEDDING = ("newspaper", "corrugated_cardboard", "shredded_leaves", "coir")
"""Bedding that is offered where none is named: what most households can get."""

DRAWS_COUNT = 1023
SEED = 1


@dataclass(frozen=True)
class Bin:
    """The bins that are fed, all alike."""

    tray_area_m2: float  # surface of a tray, which limits the stock [m²]
    age_days: float  # days since the hand-over
    starter_kg: float | None  # worms given with each; None for the published starter [kg]
    air_c: float  # temperature of the air about it [°C]
    bins_count: int = 1


@dataclass(frozen=True)
class Interval:
    """A central value and its 95% range."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class BeddingToAdd:
    """Bedding that brings the mix into its bands."""

    material_id: str
    mass_kg: float  # how much a week; infinite where this bedding cannot do it [kg]
    water_kg: float  # water to sprinkle on so that the mix does not dry out [kg, a litre each]
    made: Mix | None  # the mix with both; None where it cannot be made


@dataclass(frozen=True)
class FeedBalance:
    """What a week's feed is, what it lacks, and what the worms can take of it."""

    fed_kg: Mapping[str, float]  # for each material what goes in a week [kg]
    left_out: tuple[str, ...]  # for each thing that should stay out, the reason
    mix: Mix | None  # all that goes in together; None where nothing is left to feed
    # what to warn of
    is_short_of_carbon: bool
    is_slow_to_rot: bool
    is_too_acid: bool
    is_too_wet: bool
    is_too_dry: bool
    # ways to put the mix right, one bedding each; empty where nothing is to be added
    bedding: tuple[BeddingToAdd, ...]
    capacity_kg_per_day: Interval  # what the stock can take a day [kg]
    bed_c: float  # temperature that the bed is reckoned with [°C]

    @property
    def fed_kg_per_day(self) -> float:
        """Feed of a mean day [kg]."""
        return sum(self.fed_kg.values()) / DAYS_PER_WEEK


def balance_feed(
    offered_kg: Mapping[str, float],
    bins: Bin,
    factors: FactorTable,
    beddings: Sequence[str] = BEDDING,
) -> FeedBalance:
    """Balance a week's feed by the mixing formula and set it against the stock.

    Parameters
    ----------
    offered_kg
        For each material, or thing that should stay out, its mass in a week [kg].

    Raises
    ------
    EstimateError
        A mass is not above zero.
    FactorError
        The tables do not know a material.

    References
    ----------
    usda_neh_637, nraes_54 and bertrand_mixture (materials); cooperband_2002 (20 to 40 of carbon);
    edwards_2004 (moisture); nyc_guide_2012, munroe_manual (what a stock takes).
    """
    for name, mass in offered_kg.items():
        if not 0.0 < mass < np.inf:
            message = say("fed.no_mass", name=name, kg=f"{mass:g}")
            raise EstimateError(message)
    left_out = tuple(name for name in offered_kg if name in KEEP_OUT)
    fed_kg = {name: mass for name, mass in offered_kg.items() if name not in KEEP_OUT}
    fed = [material(factors, name) for name in fed_kg]
    masses = np.array(list(fed_kg.values()))
    bed_c, capacity = _capacity(bins, factors)
    made = mix(fed, masses) if fed else None
    ratio, moisture = (
        {place: factors.find(name, place).value for place in ("lowest", "wanted", "highest")}
        for name in ("mix_carbon_to_nitrogen_ratio", "mix_moisture_share")
    )
    is_poor = made is not None and made.carbon_to_nitrogen_ratio < ratio["lowest"]
    is_wet = made is not None and made.moisture_share > moisture["wanted"]
    to_add = [material(factors, name) for name in beddings] if is_poor or is_wet else []
    limits = (ratio["wanted"], moisture["wanted"], moisture["lowest"])
    return FeedBalance(
        fed_kg=fed_kg,
        left_out=left_out,
        mix=made,
        is_short_of_carbon=is_poor,
        is_slow_to_rot=made is not None and made.carbon_to_nitrogen_ratio > ratio["highest"],
        is_too_acid=_acid_share(fed_kg) > factors.find("acid_feed_share").value,
        is_too_wet=is_wet,
        is_too_dry=made is not None and made.moisture_share < moisture["lowest"],
        bedding=tuple(_to_add(fed, masses, one, *limits) for one in to_add),
        capacity_kg_per_day=capacity,
        bed_c=bed_c,
    )


def _acid_share(fed_kg: Mapping[str, float]) -> float:
    total = sum(fed_kg.values())
    return sum(fed_kg.get(name, 0.0) for name in ACID_FEED) / total if total else 0.0


def _to_add(
    fed: Sequence[Material],
    masses: Numbers,
    bedding: Material,
    wanted_ratio: float,
    wanted_moisture: float,
    least_moisture: float,
) -> BeddingToAdd:
    mass_kg = max(
        bedding_for_ratio_kg(fed, masses, bedding, wanted_ratio),
        bedding_for_moisture_kg(fed, masses, bedding, wanted_moisture),
    )
    if not np.isfinite(mass_kg):
        return BeddingToAdd(bedding.material_id, mass_kg, 0.0, None)
    materials, all_kg = [*fed, bedding], [*masses, mass_kg]
    water_kg = water_to_add_kg(materials, all_kg, least_moisture)
    made = mix(materials, all_kg, water_kg)
    return BeddingToAdd(bedding.material_id, mass_kg, water_kg, made)


def _capacity(bins: Bin, factors: FactorTable) -> tuple[float, Interval]:
    """Temperature of the bed, and what all the bins can take a day with its 95% range."""
    rows = [*map(factors.of_new_bin, FACTOR_IDS)]
    worms = draw_factors(rows, DRAWS_COUNT, SEED)
    bed_c = bed_temperature_c(bins.air_c, worms["bed_above_air_c"], worms["feeding_optimum_low_c"])
    # least_appetite_share is of a town, whose bins are taken indoors: this bed is where it is
    a_week = bins.bins_count * capacity_kg_per_week(
        bins.age_days,
        worms["starter_kg"] if bins.starter_kg is None else bins.starter_kg,
        bins.tray_area_m2,
        worms["doubling_days"],
        worms["ceiling_kg_per_m2"],
        worms["feed_kg_per_kg_day"],
        worms["startup_share"],
        trapezoid_response(bed_c, TemperaturePoints.of(worms)),
    )
    a_day = a_week / DAYS_PER_WEEK
    low, high = np.percentile(a_day[1:], INTERVAL_PERCENT)
    return float(bed_c[0]), Interval(float(a_day[0]), float(low), float(high))


KEEP_OUT = (
    "bones",
    "bread",
    "compostable_plastic",
    "cooked_food",
    "dairy",
    "diseased_plants",
    "fish",
    "garlic",
    "glossy_paper",
    "meat",
    "nappies",
    "oil",
    "onion",
    "pet_waste",
    "salty_food",
    "treated_wood",
    "weed_seeds",
)
"""Things that stay out; the words say the reason that is given to those who put them in."""
