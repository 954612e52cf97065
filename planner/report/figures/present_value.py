"""Figures of the years to come: tonnes, prices, present values of the bins given so far."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.figures import Input
from planner.messages import paper, said
from planner.money.appraisal import Appraisal
from planner.money.ledger import cost_per_unit
from planner.program.giveaway import label_start, year_label
from planner.report.appraising import (
    appraise,
    avoided_to_date,
    discount_rates,
    labels,
    tonnes_by_year,
)
from planner.report.disclosure.parts import is_small
from planner.report.figures.money import NO_LEDGER
from planner.report.figures.writer import Writer, number_if_known
from planner.report.inputs import factor_inputs, key_input

if TYPE_CHECKING:
    from planner.factors import Factor
    from planner.report.year import Year

NO_TONNES = "why.no_tonnes"


def appraise_program(year: Year) -> Appraisal:
    """Put tonnes, prices and costs of all years side by side, measured and to come."""
    return appraise(
        year.program,
        year.diversion.cohorts,
        year.diversion.kept_out_kg,
        year.carried,
        year.counts.costs_by_month,
    )


def add_present_value(out: Writer) -> None:
    """Add tonnes, prices and sums by year, and what they are worth today."""
    year = out.year
    given, kept_out_kg = year.diversion.cohorts, year.diversion.kept_out_kg
    appraisal = appraise_program(year)
    _add_by_year(out, appraisal)
    out.put("avoided_disposal_cost_to_date", avoided_to_date(year.program, given, kept_out_kg))
    _add_service_life(out, appraisal)
    for rate, factor in discount_rates(year.program, year.factor_table).items():
        _add_present_values(out, appraisal, rate, factor)


def _add_by_year(out: Writer, appraisal: Appraisal) -> None:
    """Add price, cost, tonnes and what these save of each year, measured or carried on."""
    hidden, known = _years_with_few_bins(out.year, appraisal), out.year.cost.lines_count > 0
    diversion, carried, years = out.year.diversion, out.year.carried, appraisal.years
    months = (*diversion.cohorts.months, *carried.months)
    fed_t, residual_t = (
        tonnes_by_year(out.year.program, months, np.hstack(scraps_kg), years)
        for scraps_kg in (
            (diversion.fed_kg, carried.fed_kg),
            (diversion.from_residual_bin_kg, carried.from_residual_bin_kg),
        )
    )
    costs = np.broadcast_to(appraisal.cost, appraisal.kept_out_t.shape)
    for place, label in enumerate(labels(appraisal, out.year.program)):
        price, words = float(appraisal.price_per_t[place]), _price_words(out.year, label)
        out.put("disposal_price_per_t_by_year[{label}]", price, label=label, said=words)
        cost = number_if_known(costs[:, place]) if known else None
        rests = _cost_inputs(out, appraisal.years[place])
        out.put("cost_by_year[{label}]", cost, rests, why=NO_LEDGER, label=label)
        is_hidden = appraisal.years[place] in hidden
        period = _period(out.year, appraisal.years[place])
        for name, draws in (
            ("kept_out_of_landfill_t_by_year[{label}]", appraisal.kept_out_t[:, place]),
            ("fed_t_by_year[{label}]", fed_t[:, place]),
            ("from_residual_bin_t_by_year[{label}]", residual_t[:, place]),
            ("avoided_disposal_cost_by_year[{label}]", appraisal.avoided[:, place]),
        ):
            out.put(name, draws, hides=is_hidden, label=label, said=period)


def _add_service_life(out: Writer, appraisal: Appraisal) -> None:
    tonnes = appraisal.kept_out_t.sum(axis=1)
    last = labels(appraisal, out.year.program)[-1]
    out.put("kept_out_of_landfill_t_service_life", tonnes, last=last)
    why = NO_TONNES if out.year.cost.lines_count else NO_LEDGER
    known = out.year.cost.lines_count > 0
    cost = appraisal.cost.sum(axis=-1) if known else 0.0
    per_t = cost_per_unit(cost, tonnes)
    out.put("cost_per_t_kept_out_service_life", per_t, why=why)


def _add_present_values(
    out: Writer, appraisal: Appraisal, rate: float, factor: Factor | None
) -> None:
    words = rate_words(out.year, rate, labels(appraisal, out.year.program)[0])
    known = out.year.cost.lines_count > 0
    of_rate = rate_inputs(out.year, rate, factor)
    for name, draws, why, also in (
        ("present_value_of_benefits", appraisal.present_value_of_benefits(rate), "", of_rate),
        ("present_value_of_costs", appraisal.present_value_of_costs(rate), NO_LEDGER, of_rate),
        ("net_present_value", appraisal.net_present_value(rate), NO_LEDGER, ()),
        ("benefit_cost_ratio", appraisal.benefit_cost_ratio(rate), "why.no_cost", ()),
        ("levelised_cost_per_t_kept_out", appraisal.levelised_cost_per_t(rate), NO_TONNES, ()),
    ):
        needs_ledger = name != "present_value_of_benefits"
        is_missing = draws is None or (needs_ledger and not known)
        out.put(
            f"{name}[{{rate}}]",
            None if is_missing or draws is None else number_if_known(draws),
            words,
            why=why if known else NO_LEDGER,
            also=also,
        )


def rate_words(year: Year, rate: float, first: str) -> dict[str, str]:
    """Words of a present value: its rate, and the year 0 whose money it is in."""
    inflation = year.program.money.inflation_share
    share = paper().share(inflation, 1)
    return {
        "rate": f"{rate:g}",
        "at": said("said.at_rate", rate=paper().share(rate, 1), first=first),
        "first": first,
        "inflation": said("said.inflation", inflation=share)
        if inflation
        else said("said.no_inflation"),
    }


def rate_inputs(year: Year, rate: float, factor: Factor | None) -> tuple[Input, ...]:
    """Name what a discount rate rests on: the program file, or the published row."""
    if factor is None:
        return (key_input("money.discount_rates", rate),)
    return factor_inputs(year.factor_table, [factor])


def _cost_inputs(out: Writer, began: int) -> dict[str, str]:
    """Say what the cost of a year rests on: its ledger, the support to come, or both."""
    year = out.year
    this = label_start(year.reporting_year.reporting_year) or 0
    is_to_come = began > this or (began == this and year.counts.is_running)
    to_come = f"{out.of_support()} key:money.inflation_share"
    names = ["query:costs_by_month"] * (began <= this) + [to_come] * is_to_come
    return {"of_cost": " ".join(names)}


def _period(year: Year, began: int) -> str:
    this = label_start(year.reporting_year.reporting_year) or 0
    if began < this or (began == this and not year.counts.is_running):
        return said("said.as_measured")
    carried = said("how.carried")
    return f"{said('said.then_carried')} {carried}" if began == this else carried


def _price_words(year: Year, label: str) -> str:
    known = sorted(y.reporting_year for y in year.program.reporting_years)
    first_month = year.program.council.reporting_year_first_month
    stated = sorted(year_label(start, first_month) for start in year.program.prices())
    if label in stated:
        return said("how.from_program")
    known = stated if label > known[-1] else known
    if label < known[-1]:
        nearest = max((one for one in known if one < label), default=known[0])
        return said("said.price_of_other_year", year=nearest)
    money, say = year.program.money, paper()
    rise, inflation = say.share(money.price_rise_share, 1), say.share(money.inflation_share, 1)
    return say.say("said.price_risen", year=known[-1], rise=rise, inflation=inflation)


def _years_with_few_bins(year: Year, appraisal: Appraisal) -> frozenset[int]:
    """Measured years at whose end few bins were given to date."""
    first_month = year.program.council.reporting_year_first_month
    month = pl.col("handover_month")
    began = month.dt.year() - (month.dt.month() < first_month).cast(pl.Int32)
    given = year.counts.handovers.group_by(began.alias("began")).agg(pl.col("bins_given").sum())
    by_year = dict(given.iter_rows())
    to_date = np.cumsum([by_year.get(one, 0) for one in appraisal.years])
    threshold = year.program.privacy.small_cell_threshold
    pairs = zip(appraisal.years, to_date, strict=True)
    return frozenset(one for one, count in pairs if is_small(float(count), threshold))
