"""What the household sheet says: the council's words, filled with its bins, climate and numbers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from planner.messages import messages_for
from planner.units import DAYS_PER_MONTH
from planner.worms import capacity_kg_per_week

if TYPE_CHECKING:
    from planner.factors import FactorTable
    from planner.messages import Messages
    from planner.program import BinModel, Program

GROWN_MONTHS = 6.0
"""Age for which the sheet says what the stock may take."""

TEXTS = {
    "sheet": ("title", "lead", "rules_first"),
    "setup": ("title", "place", "bedding", "fill", "worms"),
    "first": ("title", "little", "bury", "wait", "later"),
    "greens": ("title", "list"),
    "browns": ("title", "list", "rule"),
    "keepout": ("title", "animal", "cooked", "acid", "waste"),
    "trays": ("title", "when", "how"),
    "harvest": ("title", "when", "how"),
    "use": ("title", "castings", "liquid", "leaves"),
    "season": ("title", "heat", "cold"),
    "trouble": ("title", "sign", "do"),
    "smell": ("sign", "do"),
    "wet": ("sign", "do"),
    "dry": ("sign", "do"),
    "flies": ("sign", "do"),
    "escape": ("sign", "do"),
    "dying": ("sign", "do"),
    "safe": ("title", "hands", "dust", "weak", "lift", "children", "release", "rules"),
    "help": ("title", "stop"),
}
"""Every text of the sheet, by its section; a template has each as section_text."""

PICTURES = (
    "bin", "first", "greens", "browns", "keepout", "trays", "harvest", "use", "season", "safe",
)  # fmt: skip
"""Pictures of the sheet; a template has each as picture_NAME."""

REACH = ("phone", "email", "web_address", "opening_hours")
REACH_KEYS = ("help.phone", "help.email", "help.web", "help.hours")


@dataclass(frozen=True)
class SheetWords:
    """A sheet in one language.

    Parameters
    ----------
    messages
        Language and country.
    council
        Who gives the bins.
    texts
        For each section_text of `TEXTS`, and `help_contact`, what is said.
    pictures
        For each of `PICTURES`, what it shows.
    """

    messages: Messages
    council: str
    texts: dict[str, str]
    pictures: dict[str, str]


def sheet_words(
    program: Program, factors: FactorTable, model: BinModel, language: str | None = None
) -> SheetWords:
    """Fill the words of the sheet for a bin model.

    Parameters
    ----------
    program
        Council, country and whom households call.
    factors
        Published factors, the council's own in place.
    model
        Bin that the household is given.
    language
        A language instead of the council's own.

    Raises
    ------
    ProgramError
        There are no words in the language asked for.
    """
    messages = messages_for(program.council.country_locale, language)
    filled = {
        "mild_low": messages.temperature(factors.find("feeding_optimum_low_c").value),
        "mild_high": messages.temperature(factors.find("feeding_optimum_high_c").value),
        # where stress begins: the lower end of what is called lethal
        "hot": messages.temperature(factors.find("feeding_highest_c").limits[0]),
        "cold": messages.temperature(factors.find("feeding_lowest_c").limits[1]),
        "start_mass": messages.mass(_takes_kg(factors, model, 0.0), 1),
        "grown_mass": messages.mass(_takes_kg(factors, model, GROWN_MONTHS)),
    }
    texts = {
        f"{section}_{name}": messages.say(f"{section}.{name}", **filled)
        for section, names in TEXTS.items()
        for name in names
    }
    texts["help_contact"] = _contact(program, messages)
    shown = {name: messages.say(f"picture.{name}") for name in PICTURES}
    return SheetWords(messages, program.council.name, texts, shown)


def _takes_kg(factors: FactorTable, model: BinModel, months: float) -> float:
    """Work out what a new bin takes in a week at an age, by the central factors [kg]."""
    taken = capacity_kg_per_week(
        months * DAYS_PER_MONTH,
        factors.find("starter_kg", "").value,
        model.tray_area_m2,
        factors.find("doubling_days", "new_bin").value,
        factors.find("ceiling_kg_per_m2").value,
        factors.find("feed_kg_per_kg_day").value,
        factors.find("startup_share").value,
    )
    return float(taken)


def _contact(program: Program, messages: Messages) -> str:
    """Say how to reach somebody, each way in a sentence of its own."""
    ways = [getattr(program.household_help, name) for name in REACH]
    said = [
        messages.say(key, **{name: way})
        for key, name, way in zip(REACH_KEYS, REACH, ways, strict=True)
        if way
    ]
    return "\n".join(said) or messages.say("help.ask", council=program.council.name)
