"""Blocks of program.toml on money: prices to come, unpaid work, other ways, grants; sales tax."""

from __future__ import annotations

import csv
import datetime as dt
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from pydantic import Field, field_validator, model_validator

from planner.messages import all_of, officer_messages, paper, say
from planner.program.council import Block, Money, Text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.program import Program

Rise = Annotated[float, Field(ge=-0.2, le=0.5)]
Rate = Annotated[float, Field(ge=0.0, le=0.3)]
Spending = Literal[
    "bins", "worms", "bedding", "freight", "staff", "workshops", "events", "survey",
    "communication", "other",
]  # fmt: skip
"""Categories of the ledger that a grant may pay for: all but what households paid."""

SHARE_TOLERANCE = 1e-9


class CarbonValue(Block):
    """What a tonne of emissions avoided is worth by a published value; counted only if stated."""

    per_t_co2e: Money  # value of emissions of `price_year`, in its prices [currency per t CO2-e]
    price_year: Annotated[int, Field(ge=2000, le=2100)]  # calendar year of the value
    source: Text  # who published it, and where
    rise_share: Rise = 0.0  # yearly rise of the value above inflation


class MoneyToCome(Block):
    """What is taken of the years beyond the [[reporting_years]] blocks."""

    # yearly rise of levy and gate fee beyond the last year with a price, above inflation
    price_rise_share: Rise = 0.0
    # yearly rise of prices at large, by which sums of money are put in the prices of the program's
    # first year; 0 leaves them as booked
    inflation_share: Rise = 0.0
    # real yearly rates; empty for those of three treasuries
    discount_rates: Annotated[tuple[Rate, ...], Field(max_length=6, strict=False)] = ()
    # what a bin in use will cost the council in each year to come
    support_cost_per_bin_year: Money = 0.0
    # worth of a tonne of emissions avoided; None leaves them without a price
    carbon_value: CarbonValue | None = None

    @field_validator("discount_rates")
    @classmethod
    def _each_once(cls, value: tuple[float, ...]) -> tuple[float, ...]:
        if len(set(value)) != len(value):
            raise ValueError(say("setting.each_rate"))
        return tuple(sorted(value))


class InKind(Block):
    """Work that no ledger line pays for, as volunteers' hours."""

    reporting_year: str
    work: Text
    hours: Annotated[float, Field(ge=0.0, le=1_000_000.0)]
    rate_per_hour: Money


class OtherWay(Block):
    """Another way to keep food scraps out of landfill, with the council's own figures."""

    name: Text  # what it is, as councillors know it
    # what a tonne kept out of landfill costs that way, before levy and gate fee saved
    cost_per_t: Annotated[Money, Field(gt=0.0)]
    # its likely range, where there is one
    cost_per_t_low: Annotated[float, Field(gt=0.0)] | None = None
    cost_per_t_high: Annotated[float, Field(gt=0.0)] | None = None
    source: Text  # paper or study from which the council has the figures

    @model_validator(mode="after")
    def _holds_its_value(self) -> OtherWay:
        low, high = self.cost_per_t_low, self.cost_per_t_high
        if (low is None) != (high is None):
            raise ValueError(say("setting.cost_range"))
        if low is not None and high is not None and not low <= self.cost_per_t <= high:
            found = {"cost": f"{self.cost_per_t:g}", "low": f"{low:g}", "high": f"{high:g}"}
            raise ValueError(say("setting.cost_outside", **found))
        return self


class Funder(Block):
    """A grant that somebody gave for the bins, to be acquitted."""

    # who gives it, and the number under which they keep it
    name: Text
    grant_reference: Text
    # the grant's own period
    first_day: dt.date
    last_day: dt.date
    granted: Annotated[Money, Field(gt=0.0)]  # what was granted [currency]
    # share of the bins that it pays for, of those in its areas; all of them unless said
    bins_share: Annotated[float, Field(gt=0.0, le=1.0)] | None = None
    # ids of the areas that it is for; all unless named
    areas: Annotated[tuple[Text, ...], Field(strict=False)] = ()
    # what of the ledger it may pay for; everything but receipts unless named
    categories: Annotated[tuple[Spending, ...], Field(strict=False)] = ()

    @model_validator(mode="after")
    def _is_for_some_bins(self) -> Funder:
        if self.last_day < self.first_day:
            days = {"last": str(self.last_day), "first": str(self.first_day)}
            raise ValueError(say("setting.last_day", **days))
        if self.bins_share is None and not self.areas:
            raise ValueError(say("setting.which_bins"))
        return self

    @property
    def share(self) -> float:
        """Share of the bins of its areas."""
        return 1.0 if self.bins_share is None else self.bins_share

    def pays_for(self, area_id: str, day: dt.date) -> bool:
        """Whether it pays for bins given in an area on a day."""
        return self.first_day <= day <= self.last_day and (not self.areas or area_id in self.areas)


def paid_twice(funders: Sequence[Funder]) -> str:
    """Say which funders pay for more than all of the same bins; empty where none do."""
    # shares only rise on a first day, and areas that no grant names are all alike
    places = sorted({"", *(area for one in funders for area in one.areas)})
    for day in sorted({one.first_day for one in funders}):
        for area in places:
            both = [one for one in funders if one.pays_for(area, day)]
            if (total := sum(one.share for one in both)) > 1.0 + SHARE_TOLERANCE:
                share = officer_messages().share
                names = [f"{one.name} ({share(one.share)})" for one in both]
                where = say("setting.paid_in_area", area=area) if area else ""
                filled = {"names": all_of(names), "total": share(total), "where": where}
                return say("setting.paid_twice", **filled, day=str(day))
    return ""


@cache
def _standard_rates() -> dict[str, tuple[str, float, str]]:
    """Read the name of the tax, its standard rate and the name of its number, by country.

    A name that a country writes in more than one language is a key of the message files. Rates
    of 2025, from memory of the tax offices' own tables; `purchasing.tax` takes their place.
    """
    with Path(__file__).with_name("sales_tax.csv").open(encoding="utf-8", newline="") as file:
        return {
            row["country"]: (row["tax"], float(row["standard_rate"]), row["number_name"])
            for row in csv.DictReader(file)
        }


NO_TAX = ("tax.sales", 0.0, "tax.number")


@dataclass(frozen=True)
class SalesTax:
    """Tax on what a council buys."""

    name: str
    share: float  # tax over price without tax
    number_name: str  # what a business's number for it is called
    free_of_tax: tuple[str, ...] = ()  # kinds of goods that bear none
    is_named: bool = False  # program.toml names it, rather than the table of standard rates
    is_included: bool = False  # prices hold the tax already

    @classmethod
    def of(cls, program: Program) -> SalesTax:
        """Find the tax that a program's council pays."""
        from babel import Locale

        territory = Locale.parse(program.council.country_locale).territory
        name, share, number_name = _standard_rates().get(str(territory), NO_TAX)
        # the text of what is no key is itself
        name, number_name = paper().text(name), paper().text(number_name)
        own, includes = program.purchasing.tax, program.purchasing.prices_include_tax
        if own is None:
            return cls(name, share, number_name, is_included=includes)
        return cls(own.name, own.share, number_name, own.free_of_tax, True, includes)

    def rate(self, item_kind: str) -> float:
        """Rate of a kind of goods, or of "freight"."""
        return 0.0 if item_kind in self.free_of_tax else self.share

    def amount(self, price: float, item_kind: str) -> float:
        """Tax in or on a price, to the cent.

        Examples
        --------
        >>> SalesTax("GST", 0.1, "ABN").amount(110.0, "bins")
        11.0
        >>> SalesTax("GST", 0.1, "ABN", is_included=True).amount(110.0, "bins")
        10.0
        """
        rate = self.rate(item_kind)
        return round(price * rate / (1.0 + rate) if self.is_included else price * rate, 2)

    def without(self, price: float, item_kind: str) -> float:
        """Price without tax, to the cent."""
        included = self.amount(price, item_kind) if self.is_included else 0.0
        return round(price - included, 2)
