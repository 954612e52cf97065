"""Thank-you letters: a household's own answer, and its area's or town's result as reported.

Results are figures of the last report, which has gone through disclosure control: one that
it does not show is not told here either, and the town's takes its place.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl

from planner.units import KG_PER_T

if TYPE_CHECKING:
    from planner.field.household_sheet import SheetWords
    from planner.figures import FigureRegister

OF_AREA = "kept_out_kg_per_household"
OF_TOWN = "kept_out_of_landfill_t"

LETTER_COLUMNS = (
    "household_id", "full_name", "street_address", "postcode", "email",
    "own_words", "result_words",
)  # fmt: skip


@dataclass(frozen=True)
class LetterWords:
    """What every letter says, and its sheet's language and council.

    Parameters
    ----------
    sheet
        Language, council and whom to call.
    texts
        For each placeholder of the letter, what is said.
    """

    sheet: SheetWords
    texts: dict[str, str]


def letter_words(sheet: SheetWords) -> LetterWords:
    """Say what the same letter says to everyone."""
    say = sheet.messages.say
    before, _, after = say("letter.greeting", name="\n").partition("\n")
    texts = {name: say(f"letter.{name}") for name in ("subject", "thanks", "next", "sign")}
    return LetterWords(
        sheet,
        {
            **texts,
            "greeting_before": before,
            "greeting_after": after,
            "council": sheet.council,
            "help_contact": sheet.texts["help_contact"],
        },
    )


def letters_of(
    households: pl.DataFrame,
    contacts: pl.DataFrame,
    register: FigureRegister | None,
    sheet: SheetWords,
) -> pl.DataFrame:
    """Put together the rows of the mail merge, one a household that has an address.

    Parameters
    ----------
    households
        Query households_to_thank.
    contacts
        Frame of tables.Contacts.
    register
        Figures of the last report; None where there is none.
    sheet
        Language and council.

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
    own = {kg: sheet.messages.say("letter.own", mass=sheet.messages.mass(kg)) for kg in fed}
    return (
        households.join(contacts, on="household_id", how="inner")
        .with_columns(
            pl.col("fed_kg_last_week")
            .replace_strict(own, default="", return_dtype=pl.String)
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
        told = messages.say(
            "letter.area", area=area_name, mass=value, low=low, high=high, year=year
        )
        return f"{told} {sure}"
    of_town = _shown(register, OF_TOWN)
    if of_town is None:
        return ""
    # below a tonne kilograms say it better
    write = messages.tonnes if of_town[1] >= 1.0 else (lambda t: messages.mass(t * KG_PER_T))
    value, low, high = (write(tonnes) for tonnes in of_town)
    told = messages.say(
        "letter.town", council=sheet.council, mass=value, low=low, high=high, year=year
    )
    return f"{told} {sure}"


def _shown(register: FigureRegister, figure_id: str) -> tuple[float, float, float] | None:
    """Take value and interval of a figure that is shown and above zero."""
    if figure_id not in register:
        return None
    figure = register[figure_id]
    if figure.value is None or figure.low is None or figure.high is None:
        return None
    return (figure.value, figure.low, figure.high) if figure.low > 0.0 else None
