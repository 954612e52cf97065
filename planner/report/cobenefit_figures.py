"""Figures of what comes of the scraps: castings, what they dress, nutrients; indicative all."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.factors.draws import draw_factors
from planner.report.inputs import of_factors, of_figures
from planner.units import KG_PER_T
from planner.worms.castings import (
    castings_kg,
    castings_litres,
    dressed_m2,
    nutrient_kg,
    potting_mix_litres,
)

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from planner.factors import Factor
    from planner.figures import FigureRegister, Input
    from planner.report.year import Year

INDICATIVE = (
    "Indicative: from published ranges, nothing was weighed. No benefit is counted in tonnes, "
    "emissions or money for it."
)
CAUTIONS = (
    "Castings of a worm bin are not heat-treated: dig them in, keep them off leaves and fruit "
    "that are eaten, wash food and hands.",
    "Liquid that drains from a bin is no plant feed for food: it may carry germs or harm plants. "
    "If at all, dilute it to one part in ten and use it outdoors on plants that nobody eats.",
    "Wet castings down before handling and wear gloves and a mask against dust (Legionella, "
    "moulds). Those with weak lungs or a weak immune system leave it to others.",
    "Keep castings with live worms out of bushland. Local health, biosecurity and soil rules "
    "come first.",
)
"""To be printed beside these figures."""

MIXES = ("one_part_in_three", "one_part_in_five")
NUTRIENTS = ("nitrogen", "phosphorus", "potassium")


def add_cobenefits(register: FigureRegister, year: Year) -> None:
    """Add castings made in the year, what they dress, and the nutrients in them."""
    months = year.diversion.cohorts.months_from(year.counts.from_date)
    fed_kg = year.diversion.fed_kg.sum(axis=1)[:, months].sum(axis=1)
    castings = castings_kg(fed_kg, _drawn(year, _factor(year, "castings_share_of_scraps")))
    _add_castings(register, year, castings)
    _add_uses(register, year, castings)
    _add_nutrients(register, year, castings)


def _add_castings(register: FigureRegister, year: Year, castings: NDArray[np.float64]) -> None:
    share, density = (
        _factor(year, name) for name in ("castings_share_of_scraps", "castings_kg_per_litre")
    )
    register.add_draws(
        "castings_t",
        "Castings made of the year's scraps (indicative)",
        castings / KG_PER_T,
        "t",
        f"Scraps fed × castings left of them, without the bedding. {INDICATIVE}",
        _inputs(year, "fed_t", share),
    )
    register.add_draws(
        "castings_litres",
        "Volume of the castings (indicative)",
        castings_litres(castings, _drawn(year, density)),
        "litres",
        f"Castings over their bulk density. {INDICATIVE}",
        _inputs(year, "castings_t", density),
    )


def _add_uses(register: FigureRegister, year: Year, castings: NDArray[np.float64]) -> None:
    litres = castings_litres(castings, _drawn(year, _factor(year, "castings_kg_per_litre")))
    for mix in MIXES:
        factor = _factor(year, "castings_share_of_potting_mix", mix)
        register.add_draws(
            f"potting_mix_litres[{mix}]",
            f"Potting mix that the castings are enough for, {mix.replace('_', ' ')} (indicative)",
            potting_mix_litres(litres, _drawn(year, factor)),
            "litres",
            f"Castings over their share of the mix. {CAUTIONS[0]} {INDICATIVE}",
            _inputs(year, "castings_litres", factor),
        )
    rate = _factor(year, "castings_dressing_kg_per_m2")
    register.add_draws(
        "garden_dressed_m2",
        "Garden bed that the castings dress once (indicative)",
        dressed_m2(castings, _drawn(year, rate)),
        "m2",
        f"Castings over the dressing of a square metre. {CAUTIONS[0]} {INDICATIVE}",
        _inputs(year, "castings_t", rate),
    )


def _add_nutrients(register: FigureRegister, year: Year, castings: NDArray[np.float64]) -> None:
    water = _factor(year, "castings_water_share")
    for nutrient in NUTRIENTS:
        factor = _factor(year, "castings_nutrient_share", nutrient)
        register.add_draws(
            f"castings_nutrient_kg[{nutrient}]",
            f"{nutrient.capitalize()} in the castings (indicative)",
            nutrient_kg(castings, _drawn(year, water), _drawn(year, factor)),
            "kg",
            "Dry matter of the castings × share of the element; not all of it feeds plants in "
            f"the first season. {INDICATIVE}",
            _inputs(year, "castings_t", water, factor),
        )


def _inputs(year: Year, figure_id: str, *factors: Factor) -> tuple[Input, ...]:
    return (*of_figures(figure_id), *of_factors(year.factor_table, factors))


def _factor(year: Year, factor_id: str, applies_to: str = "") -> Factor:
    return year.factor_table.find(factor_id, applies_to)


def _drawn(year: Year, factor: Factor) -> NDArray[np.float64]:
    method = year.program.method
    return draw_factors([factor], method.draws_count, method.seed)[factor.factor_id]
