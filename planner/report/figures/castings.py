"""Figures of what comes of the scraps: castings, what they dress, nutrients; indicative all."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.factors.draws import draw_factors
from planner.report.figures.declaring import Declared
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

    from planner.report.figures.declaring import Writer

CAUTIONS = (
    "how.castings_caution",
    "said.caution_liquid",
    "said.caution_dust",
    "said.caution_live_worms",
)

MIXES = ("one_part_in_three", "one_part_in_five")
NUTRIENTS = ("nitrogen", "phosphorus", "potassium")
TABLE = ("castings",)

FIGURES = (
    Declared(
        "castings_t", "t", "fed_t factor:castings_share_of_scraps", TABLE, method="own indicative"
    ),
    Declared(
        "castings_litres",
        "litres",
        "castings_t factor:castings_kg_per_litre",
        TABLE,
        method="own indicative",
    ),
    *(
        Declared(
            f"potting_mix_litres[{mix}]",
            "litres",
            f"castings_litres factor:castings_share_of_potting_mix/{mix}",
            TABLE,
            method="castings_over_mix castings_caution indicative",
        )
        for mix in MIXES
    ),
    Declared(
        "garden_dressed_m2",
        "m2",
        "castings_t factor:castings_dressing_kg_per_m2",
        TABLE,
        method="own castings_caution indicative",
    ),
    *(
        Declared(
            f"castings_nutrient_kg[{nutrient}]",
            "kg",
            f"castings_t factor:castings_water_share factor:castings_nutrient_share/{nutrient}",
            TABLE,
            method="nutrient indicative",
        )
        for nutrient in NUTRIENTS
    ),
)


def add_castings(out: Writer) -> None:
    """Add castings made in the year, what they dress, and the nutrients in them."""
    method = out.year.program.method

    def drawn(factor_id: str, applies_to: str = "") -> NDArray[np.float64]:
        factor = out.year.factor_table.find(factor_id, applies_to)
        return draw_factors([factor], method.draws_count, method.seed)[factor_id]

    months = out.year.diversion.cohorts.months_from(out.year.counts.from_date)
    fed_kg = out.year.diversion.fed_kg[:, months].sum(axis=1)
    castings = castings_kg(fed_kg, drawn("castings_share_of_scraps"))
    litres = castings_litres(castings, drawn("castings_kg_per_litre"))
    out.put("castings_t", castings / KG_PER_T)
    out.put("castings_litres", litres)
    for mix in MIXES:
        share = drawn("castings_share_of_potting_mix", mix)
        out.put(f"potting_mix_litres[{mix}]", potting_mix_litres(litres, share))
    out.put("garden_dressed_m2", dressed_m2(castings, drawn("castings_dressing_kg_per_m2")))
    water = drawn("castings_water_share")
    for nutrient in NUTRIENTS:
        share = drawn("castings_nutrient_share", nutrient)
        out.put(f"castings_nutrient_kg[{nutrient}]", nutrient_kg(castings, water, share))
