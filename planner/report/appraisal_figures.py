"""Figures of the years to come: tonnes, prices, present values of the bins given so far."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.figures import Figure, Input
from planner.money import cost_per_unit
from planner.program.labels import label_start
from planner.report.appraising import appraise, avoided_to_date, discount_rates, labels
from planner.report.disclosure import HIDDEN, is_small
from planner.report.exact import add_known
from planner.report.inputs import of_factors, of_figures, of_key, of_query
from planner.report.ledger_figures import NO_LEDGER

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.factors import Factor
    from planner.figures import FigureRegister
    from planner.money import Appraisal
    from planner.report.year import Year

CARRIED = (
    "The bins given so far and no others: retention carried on by its fitted curve, feed and "
    "prior routes as last surveyed, each bin to the end of its service life."
)
NO_TONNES = "Not given: nothing may be kept out, so a cost for each tonne has no meaning."
NO_COST = "Not given: costs less receipts are not above zero, so a ratio to them has no meaning."


def add_appraisal(register: FigureRegister, year: Year) -> None:
    """Add tonnes, prices and sums by year, and what they are worth today."""
    appraisal = appraise(
        year.program,
        year.diversion.cohorts,
        year.diversion.kept_out_kg.sum(axis=1),
        year.carried,
        year.counts.costs_by_month,
    )
    _add_by_year(register, year, appraisal)
    _add_avoided_to_date(register, year)
    _add_service_life(register, year, appraisal)
    for rate, factor in discount_rates(year.program, year.factor_table).items():
        _add_present_values(register, year, appraisal, rate, factor)


def _add_by_year(register: FigureRegister, year: Year, appraisal: Appraisal) -> None:
    hidden = _years_with_few_bins(year, appraisal)
    for place, label in enumerate(labels(appraisal, year.program)):
        _add_price_and_cost(register, year, appraisal, place, label)
        is_hidden = appraisal.years[place] in hidden
        _add_estimates(register, year, appraisal, place, label, is_hidden=is_hidden)


def _add_price_and_cost(
    register: FigureRegister, year: Year, appraisal: Appraisal, place: int, label: str
) -> None:
    currency = year.program.council.currency
    register.add_exact(
        f"disposal_price_per_t_by_year[{label}]",
        f"Levy and gate fee of a tonne in {label}",
        float(appraisal.price_per_t[place]),
        f"{currency} per t",
        _price_words(year, label),
        _price_inputs(year),
    )
    name = f"cost_by_year[{label}]"
    words = f"Program cost, and support of bins in use to come, in {label}"
    if not year.cost.lines_count:
        register.add(Figure(name, words, None, None, None, currency, NO_LEDGER))
        return
    add_known(
        register,
        name,
        words,
        np.broadcast_to(appraisal.cost, appraisal.kept_out_t.shape)[:, place],
        currency,
        "Ledger lines of the year, receipts taken off; in years to come support alone.",
        (of_query("costs_by_month", year.counts.costs_by_month),),
    )


def _add_estimates(
    register: FigureRegister,
    year: Year,
    appraisal: Appraisal,
    place: int,
    label: str,
    *,
    is_hidden: bool,
) -> None:
    """Add tonnes and what they save, measured or carried on."""
    method, inputs = _period(year, appraisal.years[place]), _inputs_to_come(year)
    for figure_id, what, draws, unit in (
        (
            "kept_out_of_landfill_t_by_year",
            "Food scraps kept out of landfill",
            appraisal.kept_out_t[:, place],
            "t",
        ),
        (
            "avoided_disposal_cost_by_year",
            "Levy and gate fee not paid",
            appraisal.avoided[:, place],
            year.program.council.currency,
        ),
    ):
        name, title = f"{figure_id}[{label}]", f"{what} in {label}"
        if is_hidden:
            register.add(Figure(name, title, None, None, None, unit, HIDDEN))
        else:
            register.add_draws(name, title, draws, unit, method, inputs)


def _add_avoided_to_date(register: FigureRegister, year: Year) -> None:
    register.add_draws(
        "avoided_disposal_cost_to_date",
        "Levy and gate fee not paid to date",
        avoided_to_date(
            year.program, year.diversion.cohorts, year.diversion.kept_out_kg.sum(axis=1)
        ),
        year.program.council.currency,
        "Tonnes kept out of landfill × levy and gate fee, each month at the price of its year.",
        (*of_figures("kept_out_of_landfill_to_date_t"), *_price_inputs(year)),
    )


def _add_service_life(register: FigureRegister, year: Year, appraisal: Appraisal) -> None:
    tonnes = appraisal.kept_out_t.sum(axis=1)
    name, last = "kept_out_of_landfill_t_service_life", labels(appraisal, year.program)[-1]
    register.add_draws(
        name,
        f"Food scraps kept out of landfill by the bins given so far, from the first to {last}",
        tonnes,
        "t",
        f"Kept out to date and in the years to come. {CARRIED}",
        (*of_figures("kept_out_of_landfill_to_date_t"), *_inputs_to_come(year)),
    )
    unit = f"{year.program.council.currency} per t"
    label = "Program cost to date for each tonne that its bins keep out over their service lives"
    draws = cost_per_unit(year.cost.to_date, tonnes)
    inputs = of_figures("program_cost_to_date", name)
    if draws is None:
        method = NO_TONNES if year.cost.lines_count else NO_LEDGER
        register.add(
            Figure("cost_per_t_kept_out_service_life", label, None, None, None, unit, method)
        )
        return
    method = "The first over the second, draw by draw; not discounted, no cost to come."
    register.add_draws("cost_per_t_kept_out_service_life", label, draws, unit, method, inputs)


def _add_present_values(
    register: FigureRegister, year: Year, appraisal: Appraisal, rate: float, factor: Factor | None
) -> None:
    known = year.cost.lines_count > 0
    at = f"at {rate:.1%} a year, in money of {labels(appraisal, year.program)[0]}"
    of_rate = _rate_inputs(year, rate, factor)
    for value in (
        _benefits(year, appraisal, rate, of_rate),
        *_costs_and_ratios(year, appraisal, rate, of_rate, known=known),
    ):
        name, label = f"{value.figure_id}[{rate:g}]", f"{value.label} {at}"
        if value.draws is None:
            reason = value.reason if known else NO_LEDGER
            register.add(Figure(name, label, None, None, None, value.unit, reason))
        else:
            add_known(register, name, label, value.draws, value.unit, value.method, value.inputs)


@dataclass(frozen=True)
class _Value:
    """A figure of one discount rate; `reason` says why it may have no draws."""

    figure_id: str
    label: str
    draws: NDArray[np.float64] | None
    unit: str
    method: str
    inputs: tuple[Input, ...]
    reason: str = NO_LEDGER


def _benefits(year: Year, appraisal: Appraisal, rate: float, of_rate: tuple[Input, ...]) -> _Value:
    return _Value(
        "present_value_of_benefits",
        "Levy and gate fee not paid over the bins' service lives",
        appraisal.present_value_of_benefits(rate),
        year.program.council.currency,
        f"{_discounted(year, appraisal)} {CARRIED}",
        (*_inputs_to_come(year), *_price_inputs(year), *of_rate),
    )


def _costs_and_ratios(
    year: Year, appraisal: Appraisal, rate: float, of_rate: tuple[Input, ...], *, known: bool
) -> tuple[_Value, ...]:
    """Everything that needs a ledger."""
    currency = year.program.council.currency
    both = of_figures(*(f"present_value_of_{one}[{rate:g}]" for one in ("costs", "benefits")))
    ledger = of_query("costs_by_month", year.counts.costs_by_month)
    support = of_key(
        "money.support_cost_per_bin_year", year.program.money.support_cost_per_bin_year
    )
    return (
        _Value(
            "present_value_of_costs",
            "Program cost to date, and support to come,",
            appraisal.present_value_of_costs(rate) if known else None,
            currency,
            f"{_discounted(year, appraisal)} Receipts are taken off; nothing is bought again.",
            (ledger, support, *of_rate),
        ),
        _Value(
            "net_present_value",
            "Net present value of the bins given so far",
            appraisal.net_present_value(rate) if known else None,
            currency,
            "Levy and gate fee not paid less program cost. The council's own money alone: "
            "emissions, castings and what households gain have no price here.",
            both,
        ),
        _Value(
            "benefit_cost_ratio",
            "Benefit-cost ratio of the bins given so far",
            appraisal.benefit_cost_ratio(rate) if known else None,
            "ratio",
            "Levy and gate fee not paid over program cost, draw by draw.",
            both,
            NO_COST,
        ),
        _Value(
            "levelised_cost_per_t_kept_out",
            "Price of a tonne at which the bins given so far break even",
            appraisal.levelised_cost_per_t(rate) if known else None,
            f"{currency} per t",
            "Program cost over tonnes kept out, both discounted.",
            (*both[:1], *_inputs_to_come(year)),
            NO_TONNES,
        ),
    )


def _discounted(year: Year, appraisal: Appraisal) -> str:
    first = labels(appraisal, year.program)[0]
    inflation = year.program.money.inflation_share
    prices = (
        f"Sums are put in its prices by inflation of {inflation:.1%} a year."
        if inflation
        else "Sums are as booked and priced, with no inflation taken out."
    )
    return f"Year 0 is {first}; a sum of year t is divided by (1 + rate)^t. {prices}"


def _inputs_to_come(year: Year) -> tuple[Input, ...]:
    lives = {m.model_id: m.service_life_years for m in year.program.bin_models}
    words = "; ".join(f"{model} {life} years" for model, life in lives.items())
    return (
        *of_figures("kept_out_of_landfill_t", "retention_12_months", "landfill_share"),
        of_key("bin_models.service_life_years", words),
    )


def _price_inputs(year: Year) -> tuple[Input, ...]:
    known = "; ".join(
        f"{y.reporting_year} {y.landfill_levy_per_t:g} + {y.gate_fee_per_t:g}"
        for y in year.program.reporting_years
    )
    money = year.program.money
    return (
        of_key("reporting_years.landfill_levy_per_t + gate_fee_per_t", known),
        of_key("money.price_rise_share", money.price_rise_share),
        of_key("money.inflation_share", money.inflation_share),
    )


def _rate_inputs(year: Year, rate: float, factor: Factor | None) -> tuple[Input, ...]:
    if factor is None:
        return (of_key("money.discount_rates", f"{rate:g}"),)
    return of_factors(year.factor_table, [factor])


def _period(year: Year, began: int) -> str:
    """Say whether a year was measured or carried on."""
    this = label_start(year.reporting_year.reporting_year) or 0
    if began < this or (began == this and not year.counts.is_running):
        return "As measured."
    running = "Measured to the last full month, then carried on. " if began == this else ""
    return f"{running}{CARRIED}"


def _price_words(year: Year, label: str) -> str:
    known = sorted(y.reporting_year for y in year.program.reporting_years)
    if label in known:
        return "From the program file."
    if label < known[-1]:
        nearest = max((one for one in known if one < label), default=known[0])
        return f"The program file has no price of this year: that of {nearest} stands for it."
    money = year.program.money
    return (
        f"That of {known[-1]}, risen by {money.price_rise_share:.1%} a year above "
        f"inflation of {money.inflation_share:.1%}."
    )


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
