"""Words that the report uses, explained."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.report.document.model import Section
from planner.report.document.saying import table

if TYPE_CHECKING:
    from planner.report.document.contents import Contents

WORDS = (
    (
        "Audit",
        "Waste bins opened and their contents sorted and weighed, to check what homes say.",
    ),
    ("Castings", "The compost that worms make."),
    (
        "CO2-e",
        "Carbon dioxide equivalent: a greenhouse gas counted as the carbon dioxide that would "
        "warm the climate as much over 100 years.",
    ),
    (
        "Emissions avoided",
        "Methane that landfill will not give off, minus what the program itself emits.",
    ),
    ("Gate fee", "What a landfill charges for each tonne it takes."),
    (
        "Kept out of landfill",
        "Food scraps fed to worms that would otherwise have gone to landfill. Scraps that would "
        "have been composted anyway, or were thrown away after all, do not count.",
    ),
    ("Landfill levy", "The state's charge on each tonne sent to landfill."),
    (
        "Likely range, interval",
        "The method is built so that the range holds the true figure 19 times in 20.",
    ),
    ("Net cost", "What the program costs, minus the levy and gate fee it saves."),
    ("Residual bin", "The kerbside bin for waste that is not recycled or composted."),
)


def glossary(_: Contents) -> Section:
    """Explain the words of the trade that the report cannot do without."""
    return Section(
        "glossary",
        "What the words mean",
        (table("glossary", "Words used in this report", ("Word", "Meaning"), WORDS),),
    )
