"""Cautions for those who handle bins, worms and compost, and recommendations for the year."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.report.document.advice import advice
from planner.report.document.model import Section
from planner.report.document.saying import table, text

if TYPE_CHECKING:
    from planner.report.document.contents import Contents

DUST = (
    "Dust and compost: compost can carry Legionella and moulds. Wet it before it is handled, "
    "open bags and bins in fresh air and away from the face, wear gloves and a well-fitting "
    "mask, and wash hands after. If you fall ill after handling compost, tell your doctor."
)
LIQUID = (
    "Liquid: what drains from a bin is not tested and may carry germs. Keep it off leaves, herbs "
    "and anything that is eaten raw; pour it, thinned, on the soil of ornamental plants, or back "
    "into the bin."
)
LIFTING = (
    "Lifting: a full tray is heavy. Empty it in parts or lift it in pairs, with a straight back, "
    "and place the bin where nobody has to stoop or climb."
)
BIOSECURITY = (
    "Live worms: order by species, refuse mixed or unknown ones, and never release worms or "
    "unsorted castings in bushland, forest or waterways. Moving live worms, soil or compost may "
    "need a permit."
)
DEFER = (
    "Local health, workplace, biosecurity and waste rules, and the advice of licensed "
    "practitioners, come before anything said here."
)
NOTHING_TO_ADVISE = "The results call for no change."
OF_ADVICE = (
    "Each recommendation follows from the results by the rule next to it. Local plans, staff and "
    "other aims are for the council to weigh."
)


def recommendations(contents: Contents) -> Section:
    """Say what the results call for next year."""
    found = advice(contents)
    if not found:
        return Section("recommendations", "What we recommend", (text(NOTHING_TO_ADVISE),))
    return Section(
        "recommendations",
        "What we recommend for next year",
        (
            text(OF_ADVICE),
            table(
                "recommendations",
                "Recommendations, each with its reason",
                ("What", "Why", "When it is recommended"),
                [(one.short, one.reason, one.rule) for one in found],
            ),
        ),
    )


def cautions(_: Contents) -> Section:
    """Warn of what can hurt."""
    warned = (text(words, kind="caution") for words in (DUST, LIQUID, LIFTING, BIOSECURITY))
    return Section("cautions", "Handling bins, worms and compost with care", (*warned, text(DEFER)))
