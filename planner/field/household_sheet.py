"""What the household sheet and the letters of thanks say: words, filled with the numbers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl

from planner.messages import messages_for
from planner.units import DAYS_PER_MONTH, KG_PER_T
from planner.worms.run_in import capacity_kg_per_week

if TYPE_CHECKING:
    from planner.factors import FactorTable
    from planner.figures import FigureRegister
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
    """A sheet in one language."""

    messages: Messages
    council: str
    texts: dict[str, str]  # for each section_text of `TEXTS`, and `help_contact`, what is said
    pictures: dict[str, str]  # for each of `PICTURES`, what it shows


def sheet_words(
    program: Program, factors: FactorTable, model: BinModel, language: str | None = None
) -> SheetWords:
    """Fill the words of the sheet for a bin model.

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


OF_AREA = "kept_out_kg_per_household"
OF_TOWN = "kept_out_of_landfill_t"

LETTER_COLUMNS = (
    "household_id", "full_name", "street_address", "postcode", "email",
    "own_words", "result_words",
)  # fmt: skip


def letter_words(sheet: SheetWords) -> dict[str, str]:
    """Say what the same letter says to everyone."""
    say = sheet.messages.say
    before, _, after = say("letter.greeting", name="\n").partition("\n")
    texts = {name: say(f"letter.{name}") for name in ("subject", "thanks", "next", "sign")}
    return {
        **texts,
        "greeting_before": before,
        "greeting_after": after,
        "council": sheet.council,
        "help_contact": sheet.texts["help_contact"],
    }


def letters_of(
    households: pl.DataFrame,
    contacts: pl.DataFrame,
    register: FigureRegister | None,
    sheet: SheetWords,
) -> pl.DataFrame:
    """Put together the rows of the mail merge, one a household that has an address.

    Returns
    -------
    polars.DataFrame
        LETTER_COLUMNS; words are empty where nothing can be told.
    """
    areas = households.select("area_id", "area_name").unique()
    results = {
        area_id: _result(register, sheet, area_id, area_name)
        for area_id, area_name in areas.iter_rows()
    }
    fed = households["fed_kg_last_week"].drop_nulls().unique()
    sentences = {kg: sheet.messages.say("letter.own", mass=sheet.messages.mass(kg)) for kg in fed}
    return (
        households.join(contacts, on="household_id", how="inner")
        .with_columns(
            pl.col("fed_kg_last_week")
            .replace_strict(sentences, default="", return_dtype=pl.String)
            .alias("own_words"),
            pl.col("area_id")
            .replace_strict(results, default="", return_dtype=pl.String)
            .alias("result_words"),
        )
        .select(LETTER_COLUMNS)
        .sort("household_id")
    )


def _result(
    register: FigureRegister | None, sheet: SheetWords, area_id: str, area_name: str
) -> str:
    """Say the area's result, or the town's where the area's is not shown."""
    if register is None:
        return ""
    messages, year = sheet.messages, register.reporting_year
    sure = messages.say("letter.sure")
    of_area = _shown(register, f"{OF_AREA}[{area_id}]")
    if of_area is not None:
        value, low, high = (messages.mass(kg) for kg in of_area)
        sentence = messages.say(
            "letter.area", area=area_name, mass=value, low=low, high=high, year=year
        )
        return f"{sentence} {sure}"
    of_town = _shown(register, OF_TOWN)
    if of_town is None:
        return ""
    # below a tonne kilograms say it better
    write = messages.tonnes if of_town[1] >= 1.0 else (lambda t: messages.mass(t * KG_PER_T))
    value, low, high = (write(tonnes) for tonnes in of_town)
    sentence = messages.say(
        "letter.town", council=sheet.council, mass=value, low=low, high=high, year=year
    )
    return f"{sentence} {sure}"


def _shown(register: FigureRegister, figure_id: str) -> tuple[float, float, float] | None:
    """Take value and interval of a figure that is shown and above zero."""
    if figure_id not in register:
        return None
    figure = register[figure_id]
    if figure.value is None or figure.low is None or figure.high is None:
        return None
    return (figure.value, figure.low, figure.high) if figure.low > 0.0 else None
