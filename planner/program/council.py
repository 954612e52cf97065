"""Blocks of program.toml on the council, and what every block shares: strict kinds of values."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated

import babel
from babel.numbers import is_currency
from pydantic import AfterValidator, BaseModel, ConfigDict, Field, field_validator

from planner.messages import FIRST_LANGUAGE, languages, say
from planner.units import MONTHS_PER_YEAR

Share = Annotated[float, Field(ge=0.0, le=1.0)]
Money = Annotated[float, Field(ge=0.0)]
Text = Annotated[str, Field(min_length=1, max_length=200)]


class Block(BaseModel):
    """A block of keys: none unknown, each of its own type, nothing changed once read."""

    # deferred: else each block is built twice, alone and within the whole
    model_config = ConfigDict(
        frozen=True, extra="forbid", strict=True, allow_inf_nan=False, defer_build=True
    )


def refuse_twice(block: str, names: Iterable[str]) -> None:
    """Refuse blocks of a kind two of which bear one name.

    Raises
    ------
    ValueError
        Two do; the message names the first.
    """
    if repeated := sorted(name for name, count in Counter(names).items() if count > 1):
        raise ValueError(say("setting.twice", block=block, name=repeated[0]))


def _twelve(value: tuple[float, ...]) -> tuple[float, ...]:
    if len(value) != MONTHS_PER_YEAR:
        raise ValueError(say("setting.twelve", count=MONTHS_PER_YEAR))
    return value


TWELVE_MONTHS = AfterValidator(_twelve)
"""Marks a list of months, January first."""


class Council(Block):
    """Who runs the program and how its country writes dates, numbers and money."""

    name: Text
    country_locale: Text
    currency: Text
    reporting_year_first_month: Annotated[int, Field(ge=1, le=12)]
    report_language: Text = FIRST_LANGUAGE  # language of reports, plans and orders, as "es"

    @field_validator("country_locale")
    @classmethod
    def _known_locale(cls, value: str) -> str:
        try:
            locale = babel.Locale.parse(value.strip().replace("-", "_"))
        except (babel.UnknownLocaleError, ValueError):
            locale = None
        if locale is None or locale.territory is None:
            raise ValueError(say("setting.locale"))
        if str(locale) != value:
            raise ValueError(say("setting.locale_near", near=str(locale)))
        return value

    @field_validator("report_language")
    @classmethod
    def _known_language(cls, value: str) -> str:
        if value not in languages():
            raise ValueError(say("setting.language", known=", ".join(languages())))
        return value

    @field_validator("currency")
    @classmethod
    def _known_currency(cls, value: str) -> str:
        if not is_currency(value):
            known = value.strip().upper()
            is_near = is_currency(known)
            raise ValueError(
                say("setting.currency_near", near=known) if is_near else say("setting.currency")
            )
        return value


class Reporting(Block):
    """When a change to a report that was given out is called material."""

    # a change of more than this share of the issued figure; 5% is common practice in the
    # verification of greenhouse gas statements (no source seen)
    materiality_share: Annotated[float, Field(ge=0.0, le=0.5)] = 0.05


class Privacy(Block):
    """What is not shown, what is encrypted, and how long personal details are kept."""

    small_cell_threshold: Annotated[int, Field(ge=3, le=100)]
    encrypt_records: bool = False
    contacts_retention_months: Annotated[int, Field(ge=1, le=1200)] | None = None


class AreaMap(Block):
    """A file of area boundaries (GeoJSON, RFC 7946) and what names an area in it."""

    boundaries: Text
    area_id_property: Text = "area_id"


class HouseholdHelp(Block):
    """How households reach somebody who helps; printed on their sheets as it stands here."""

    phone: Text | None = None
    email: Text | None = None
    web_address: Text | None = None
    opening_hours: Text | None = None


@dataclass(frozen=True)
class FirstAnswers:
    """What an officer says of the council when the program file is begun; None stays as it is."""

    name: str | None = None
    country_locale: str | None = None  # language and country, as "fr_FR"
    currency: str | None = None  # three letters; the country's own unless said
    reporting_year: str | None = None  # first year to report on, as "2025" or "2025-26"
    # month in which it begins; January where the label is a single year
    first_month: int | None = None
