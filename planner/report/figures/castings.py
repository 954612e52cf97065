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
TABLE = {"castings": ""}

FIGURES = (
    Declared(
        "castings_t",
        "Castings made of the year's scraps (indicative)",
        "t",
        f"Scraps fed × castings left of them, without the bedding. {INDICATIVE}",
        "fed_t factor:castings_share_of_scraps",
        TABLE,
    ),
    Declared(
        "castings_litres",
        "Volume of the castings (indicative)",
        "litres",
        f"Castings over their bulk density. {INDICATIVE}",
        "castings_t factor:castings_kg_per_litre",
        TABLE,
    ),
    *(
        Declared(
            f"potting_mix_litres[{mix}]",
            f"Potting mix that the castings are enough for, {mix.replace('_', ' ')} (indicative)",
            "litres",
            f"Castings over their share of the mix. {CAUTIONS[0]} {INDICATIVE}",
            f"castings_litres factor:castings_share_of_potting_mix/{mix}",
            TABLE,
        )
        for mix in MIXES
    ),
    Declared(
        "garden_dressed_m2",
        "Garden bed that the castings cover once (indicative)",
        "m2",
        f"Castings over what covers a square metre. {CAUTIONS[0]} {INDICATIVE}",
        "castings_t factor:castings_dressing_kg_per_m2",
        TABLE,
    ),
    *(
        Declared(
            f"castings_nutrient_kg[{nutrient}]",
            f"{nutrient.capitalize()} in the castings (indicative)",
            "kg",
            "Dry matter of the castings × share of the element; not all of it feeds plants in "
            f"the first season. {INDICATIVE}",
            f"castings_t factor:castings_water_share factor:castings_nutrient_share/{nutrient}",
            TABLE,
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
