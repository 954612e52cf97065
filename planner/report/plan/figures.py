"""Figures of a plan: bins, tonnes, emissions and cost, and how sure they are."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Integers, Numbers
from planner.figures import FigureRegister
from planner.messages import said
from planner.money.appraisal import net_present_value
from planner.money.ledger import price_path
from planner.program.giveaway import label_start
from planner.report.appraising import discount_rates
from planner.report.inputs import (
    WordedFigures,
    factor_inputs,
    figure_inputs,
    key_input,
    query_input,
)
from planner.report.plan.answers import add_answers
from planner.report.plan.words import plan_years
from planner.report.wording import Wording
from planner.sizing.outcome import by_year
from planner.sizing.world import retention_curves
from planner.tables import DWELLINGS
from planner.units import DAYS_PER_WEEK, DAYS_PER_YEAR, KG_PER_T

if TYPE_CHECKING:
    from planner.sizing.context import Evidence
    from planner.sizing.sizing import Sizing

PERCENTILES = (10, 50, 90)
WEEKS_PER_YEAR = DAYS_PER_YEAR / DAYS_PER_WEEK
RESULTS = (
    ("plan_bins_given", "bins_given", "bins", "taken", ("plan_bins",)),
    ("plan_kept_out_t", "kept_out", "t", "planned", ()),
    ("plan_fed_t", "fed", "t", "planned", ("plan_kept_out_t",)),
    ("plan_net_t_co2e", "net", "t CO2-e", "net_method", ("plan_kept_out_t",)),
    ("plan_cost", "cost", "{currency}", "cost_method", ("plan_kept_out_t",)),
    (
        "plan_cost_per_t",
        "cost_per_t",
        "{currency} per t",
        "cost_per_t_method",
        ("plan_cost", "plan_kept_out_t"),
    ),
    ("plan_avoided_disposal_cost", "saved", "{currency}", "saved_method", ("plan_kept_out_t",)),
)
"""Sums over the horizon: id, label, unit, method, and what each rests on but for the inputs."""

LINES = (
    *("plan_avoided_disposal_cost", "plan_cost"),
    *("plan_price_changes", "plan_support_cost"),
)
"""Lines that discounting leads from to the net present value."""


def register_plan(sizing: Sizing, evidence: Evidence) -> FigureRegister:
    """Register every figure of a plan, and the counts that it rests on."""
    label = sizing.main.settings.reporting_year
    figures = WordedFigures.of(sizing.program, label, "plan.figure.")
    _add_bins(figures, sizing, evidence)
    _add_results(figures, sizing)
    _add_rates(figures, sizing)
    _add_present_value(figures, sizing)
    budget = sizing.main.settings.budget
    currency = sizing.program.council.currency
    key = key_input("budget", budget)
    figures.put("plan_budget", "budget", budget, currency, "from_program", key)
    _add_times(figures, sizing)
    add_answers(figures, sizing)
    return figures.register


def _add_bins(figures: WordedFigures, sizing: Sizing, evidence: Evidence) -> None:
    settings, groups = sizing.main.settings, sizing.context.groups
    bins = sizing.main.allocation.bins_by_group
    counted = (
        query_input("households_by_group", evidence.households),
        query_input("registrations_by_month", evidence.registrations),
        query_input("handovers_by_month", evidence.handovers),
        query_input("costs_by_category", evidence.costs),
        query_input("turnout_by_event", evidence.turnout),
        key_input("sizing.objective", settings.objective),
    )
    figures.put("plan_bins", "bins", float(bins.sum()), "bins", "chosen", *counted)

    def add_part(name: str, part: str, count: float) -> None:
        figure_id = f"{name}[{part}]"
        figures.put(figure_id, "bins_part", count, "bins", "chosen", "plan_bins", part=part)

    for name, label, counts in (
        ("plan_bins_by_area", groups.area_ids, _by(groups.area, bins, len(groups.area_ids))),
        ("plan_bins_by_dwelling", DWELLINGS, _by(groups.dwelling, bins, len(DWELLINGS))),
        ("plan_bins_by_model", [m.model_id for m in settings.models], bins.sum(axis=(0, 2))),
        ("plan_bins_by_round", [r.name for r in settings.rounds], bins.sum(axis=(0, 1))),
    ):
        for part, count in zip(label, counts, strict=True):
            add_part(name, part, float(count))
    for group, model, place in np.argwhere(bins > 0):
        names = (settings.models[model].model_id, settings.rounds[place].name)
        part = "/".join((groups.labels[group], *names))
        add_part("plan_bins", part, float(bins[group, model, place]))


def _by(place: Integers, bins: Integers, count: int) -> Numbers:
    sums = np.zeros(count)
    np.add.at(sums, place, bins.sum(axis=(1, 2)))
    return sums


def _add_results(figures: WordedFigures, sizing: Sizing) -> None:
    settings, outcome = sizing.main.settings, sizing.main.outcome
    beliefs = [one for one in sizing.inputs.beliefs if one.factor is not None or one.unit != "rank"]
    factors = factor_inputs(sizing.table, [b.factor for b in beliefs if b.factor is not None])
    inputs = figure_inputs(*(f"plan_input[{b.name}]" for b in beliefs if b.factor is None))
    years = settings.horizon_years
    over = said("plan.figure.over", years=years) if years > 1 else said("plan.figure.in_its_year")
    told = {"over": over, "year": settings.reporting_year}
    for name, words, of_money, method, rests_on in RESULTS:
        unit = of_money.format(currency=sizing.program.council.currency)
        if name == "plan_cost_per_t" and outcome.kept_out_t.min() <= 0.0:
            figures.put(name, words, None, unit, "no_tonnes")
            continue
        draws = (
            outcome.kept_out_t * settings.price_per_t
            if name == "plan_avoided_disposal_cost"
            else getattr(outcome, name.removeprefix("plan_"))
        )
        base = rests_on or (*factors, *inputs)
        figures.put(name, words, draws, unit, method, *base, **told)
        label = said(f"plan.figure.{words}", **told)
        for percent in PERCENTILES:
            figures.put(
                f"{name}[p{percent}]", "percentile", float(np.percentile(draws[1:], percent)),
                unit, said(f"plan.figure.{method}"), name, label=label, percent=percent,
            )  # fmt: skip


def _add_present_value(figures: WordedFigures, sizing: Sizing) -> None:
    """Add each step from savings at this year's prices to what the plan is worth.

    Savings, price changes, cost, support and discounting add up to the net present value, so
    that whoever adds the lines of two price bases sees what lies between them.
    """
    settings, outcome, money = sizing.main.settings, sizing.main.outcome, sizing.program.money
    currency, years = sizing.program.council.currency, range(settings.horizon_years)
    prices = price_path(_known_prices(sizing), years, money.price_rise_share)
    support = by_year(outcome.in_use_weeks_by_month) / WEEKS_PER_YEAR
    support *= money.support_cost_per_bin_year
    costs = support.copy()
    costs[:, 0] += outcome.cost
    saved = outcome.kept_out_t_by_year * prices
    in_force = key_input("money.price_rise_share", money.price_rise_share)
    paid = key_input("money.support_cost_per_bin_year", money.support_cost_per_bin_year)
    changes = saved.sum(axis=1) - outcome.kept_out_t * settings.price_per_t
    for name, words, draws, of_money in (
        ("plan_price_changes", "price_changes", changes, in_force),
        ("plan_support_cost", "support", support.sum(axis=1), paid),
    ):
        method = "changes_method" if words == "price_changes" else "support_method"
        figures.put(name, words, draws, currency, method, "plan_kept_out_t", of_money)
    wording = Wording.of(sizing.program)
    for rate in discount_rates(sizing.program, sizing.table):
        worth = net_present_value(saved, costs, rate)
        gap = (saved - costs).sum(axis=1) - worth
        for name, words, draws, method in (
            ("plan_discounting", "discounting", gap, "discounting_method"),
            ("plan_net_present_value", "present_value", worth, "worth_method"),
        ):
            told = {"rate": wording.share(rate, 1)}
            figures.put(f"{name}[{rate:g}]", words, draws, currency, method, *LINES, **told)


def _known_prices(sizing: Sizing) -> dict[int, float]:
    """Levy and gate fee by year of the plan, in prices of its first: its own, and scenarios'."""
    settings, inflation = sizing.main.settings, sizing.program.money.inflation_share
    first = label_start(settings.reporting_year) or 0
    later = {year - first: sum(both) for year, both in sizing.program.prices().items()}
    known = {n: price / (1.0 + inflation) ** n for n, price in later.items() if n > 0}
    return {0: settings.price_per_t, **known}


def _add_rates(figures: WordedFigures, sizing: Sizing) -> None:
    main = sizing.main
    curves = retention_curves(sizing.draws, with_workshop=main.settings.with_workshop)
    mix = sizing.context.groups.by_dwelling(main.allocation.bins_by_group.sum(axis=(1, 2)) * 1.0)
    shares = np.stack([curve.in_use_share(np.array([12.0]))[:, 0] for curve in curves], axis=1)
    weight = mix / mix.sum() if mix.sum() else np.full(mix.size, 1.0 / mix.size)
    name = "plan_in_use_12_months_share"
    figures.put(name, "in_use", shares @ weight, "share", "in_use_method", "plan_bins")
    weeks = main.outcome.in_use_weeks_by_month.sum(axis=1)
    if weeks.min() > 0.0:
        feed, unit = main.outcome.fed_t * KG_PER_T / weeks, "kg a week"
        figures.put("plan_feed_kg_per_bin_week", "feed", feed, unit, "feed_method", "plan_fed_t")


def _add_times(figures: WordedFigures, sizing: Sizing) -> None:
    outcome, whole = sizing.main.outcome, "plan_kept_out_t"
    planned = {"planned": said("plan.figure.planned")}
    for place, label in enumerate(plan_years(sizing)):
        both, new = sizing.main.year_t[:, place], outcome.kept_out_t_by_year[:, place]
        told = {"when": label, **planned}
        name = f"plan_kept_out_t_in_year[{label}]"
        figures.put(name, "year", both, "t", "planned_all", whole, **told)
        name = f"plan_new_kept_out_t_in_year[{label}]"
        figures.put(name, "year_new", new, "t", "planned", whole, **told)
    by_month = outcome.kept_out_t_by_month + sizing.earlier_t
    months = [f"{month:%Y-%m}" for month in sizing.main.settings.months]
    for place, month in enumerate(months):
        name, told = f"plan_kept_out_t_in_month[{month}]", {"when": month, **planned}
        figures.put(name, "year", by_month[:, place], "t", "planned_all", whole, **told)
    for percent in PERCENTILES:
        values = np.percentile(by_month[1:], percent, axis=0)
        for month, value in zip(months, values, strict=True):
            figures.put(
                f"plan_kept_out_t_in_month_p{percent}[{month}]", "month_percentile", float(value),
                "t", "planned", f"plan_kept_out_t_in_month[{month}]", when=month, percent=percent,
            )  # fmt: skip
