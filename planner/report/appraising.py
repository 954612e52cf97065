"""Money of the bins given so far, year by year, and what the council states of years to come."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.arrays import Integers, Numbers
from planner.messages import said
from planner.money.appraisal import Appraisal, by_year, cash_flow
from planner.money.ledger import price_path
from planner.program import BaselineScenario, Program, year_label
from planner.report.wording import Wording, listing
from planner.units import KG_PER_T, MONTHS_PER_YEAR

if TYPE_CHECKING:
    from planner.diversion.carried import AnotherYear, Carried
    from planner.diversion.cohorts import Cohorts
    from planner.factors import Factor, FactorTable

DISCOUNT_RATE = "discount_rate_share"
TREASURIES = ("uk_green_book", "nz_treasury_2020", "us_omb_1992")
"""Editions of the discount rates that are used where the council names none."""


def appraise(
    program: Program,
    given: Cohorts,
    kept_out_kg: Numbers,
    carried: Carried,
    costs_by_month: pl.DataFrame,
) -> Appraisal:
    """Put tonnes, prices and costs side by side from the program's first year on.

    Parameters
    ----------
    kept_out_kg
        Shape (1 + draws_count, months): kept out of landfill in the months measured [kg].
    costs_by_month
        Query costs_by_month.

    Notes
    -----
    Levy and gate fee of a year with a block or a scenario are as the program file says. Beyond
    the last of them they rise by ``(1 + price_rise_share) (1 + inflation_share) - 1`` a year.
    Support of a bin in use rises with inflation from the first year carried.
    """
    began = _began(program, (*given.months, *carried.months))
    in_ledger = _began(program, costs_by_month["cost_month"])
    years = tuple(range(min([began[0], *in_ledger]), began[-1] + 1))
    ledger = cash_flow(costs_by_month, years, program.council.reporting_year_first_month)
    in_use = carried.bins_in_use / MONTHS_PER_YEAR
    cost = ledger + _support(program, in_use, years, began[len(given.months) :])
    kept_out = np.hstack([kept_out_kg, carried.kept_out_kg])
    return _appraisal(program, years, began, kept_out, cost)


def appraise_to_come(program: Program, carried: Carried) -> Appraisal:
    """Put tonnes, prices and support of the months to come alone side by side.

    What was spent and saved before is left out: it is the same whatever is decided now.
    Year 0 is the reporting year of the first month to come, in its prices.

    References
    ----------
    green_book, paragraph 5.17; omb_a94, section 6 a: sunk costs are left out.
    """
    years, began = _years_of(program, carried.months)
    support = _support(program, carried.bins_in_use / MONTHS_PER_YEAR, years, began)
    return _appraisal(program, years, began, carried.kept_out_kg, support)


def appraise_another_year(program: Program, again: AnotherYear, cost: float) -> Appraisal:
    """Put what another year of giving would keep out, save and cost side by side.

    The `cost` of the reporting year is taken for what another would cost in year 0 [currency].
    """
    years, began = _years_of(program, again.months)
    support = _support(program, again.in_use_bin_years, years, began)
    spent = np.zeros(len(years))
    spent[0] = cost
    return _appraisal(program, years, began, again.kept_out_kg, spent + support)


def _appraisal(
    program: Program,
    years: tuple[int, ...],
    began: Integers,
    kept_out_kg: Numbers,
    cost: Numbers,
) -> Appraisal:
    tonnes, (levy, fee) = by_year(kept_out_kg / KG_PER_T, began, years), _prices(program, years)
    return Appraisal(years, tonnes, levy, fee, cost, program.money.inflation_share)


def year_starts(program: Program, months: Sequence[dt.date]) -> tuple[tuple[int, ...], Integers]:
    """Name the reporting years of consecutive months, and the first column of each."""
    years, began = _years_of(program, months)
    return years, np.searchsorted(began, np.asarray(years))


def _years_of(program: Program, months: Sequence[dt.date]) -> tuple[tuple[int, ...], Integers]:
    began = _began(program, months)
    return tuple(range(int(began[0]), int(began[-1]) + 1)), began


def tonnes_by_year(
    program: Program, months: Sequence[dt.date], scraps_kg: Numbers, years: Sequence[int]
) -> Numbers:
    """Sum scraps by reporting year, each by the year in which it begins, (1 + draws, years) [t].

    They have shape (1 + draws_count, months) [kg].
    """
    return by_year(scraps_kg / KG_PER_T, _began(program, months), years)


def avoided_to_date(program: Program, given: Cohorts, kept_out_kg: Numbers) -> Numbers:
    """Levy and gate fee saved in the months measured, shape (1 + draws_count,).

    What was kept out has shape (1 + draws_count, months) [kg].
    """
    levy, fee = _prices(program, _began(program, given.months).tolist())
    return np.asarray(kept_out_kg @ (levy + fee) / KG_PER_T)


def _prices(program: Program, years: Sequence[int]) -> tuple[Numbers, Numbers]:
    money, known = program.money, program.prices()
    rise = (1.0 + money.price_rise_share) * (1.0 + money.inflation_share) - 1.0
    levies = {year: levy for year, (levy, _) in known.items()}
    fees = {year: fee for year, (_, fee) in known.items()}
    return price_path(levies, years, rise), price_path(fees, years, rise)


def discount_rates(program: Program, table: FactorTable) -> dict[float, Factor | None]:
    """Rates to discount with, and the published row behind each that is not the council's."""
    own = program.money.discount_rates
    if own:
        return dict.fromkeys(own)
    rows = [table.find(DISCOUNT_RATE, edition=edition) for edition in TREASURIES]
    return {row.value: row for row in sorted(rows, key=lambda row: row.value)}


def labels(appraisal: Appraisal, program: Program) -> tuple[str, ...]:
    """Name its years as the council does."""
    first_month = program.council.reporting_year_first_month
    return tuple(year_label(year, first_month) for year in appraisal.years)


def _began(program: Program, months: Iterable[dt.date]) -> Integers:
    first = program.council.reporting_year_first_month
    return np.array([month.year - (month.month < first) for month in months], dtype=np.int64)


def _support(
    program: Program,
    in_use_bin_years: Numbers,
    years: Sequence[int],
    began: Integers,
) -> Numbers:
    """Support of bins in use by year; `in_use_bin_years` by month, in years of one bin."""
    bin_years = by_year(in_use_bin_years, began, years)
    since = np.maximum(np.asarray(years) - began[0], 0)
    prices = program.money.support_cost_per_bin_year * (
        (1.0 + program.money.inflation_share) ** since
    )
    return np.asarray(bin_years * prices)


def stated_assumptions(
    program: Program, wording: Wording, area_names: Mapping[str, str]
) -> tuple[str, ...]:
    """Say each dated scenario of the program file in a sentence."""
    ordered = sorted(program.scenarios, key=lambda one: one.begins)
    return tuple(_said(one, wording, area_names) for one in ordered)


def _said(one: BaselineScenario, wording: Wording, area_names: Mapping[str, str]) -> str:
    where = listing(area_names.get(area, area) for area in one.areas) or said("stated.all_areas")
    parts = []
    if one.leaves_residual_bin_share:
        share = wording.share(one.leaves_residual_bin_share)
        parts.append(said("stated.leaves", share=share, where=where))
    for key, price in (
        ("stated.levy", one.landfill_levy_per_t),
        ("stated.gate_fee", one.gate_fee_per_t),
    ):
        if price is not None:
            parts.append(said(key, price=wording.money(price, 2)))
    day = wording.day(one.begins)
    words = said("stated.assumed", name=one.name, day=day, parts=listing(parts))
    return f"{words} {said('stated.source', source=one.source)}" if one.source else words
