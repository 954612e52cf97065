"""Figures of a plan: bins, tonnes, emissions and cost, and how sure they are."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner import __version__
from planner.figures import Figure, FigureRegister
from planner.money import net_present_value, price_path
from planner.program.giveaway import label_start
from planner.report.appraising import discount_rates
from planner.report.inputs import of_factors, of_figures, of_key, of_query
from planner.report.plan.answers import add_answers, add_beliefs, add_one_bin, add_scenarios
from planner.report.plan.words import plan_years, said
from planner.report.wording import Wording
from planner.sizing.plan import by_year
from planner.sizing.world import retention_curves
from planner.tables import DWELLINGS
from planner.units import DAYS_PER_WEEK, DAYS_PER_YEAR, KG_PER_T

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from planner.figures import Input
    from planner.sizing.evidence import Evidence
    from planner.sizing.sizing import Sizing

PERCENTILES = (10, 50, 90)
WEEKS_PER_YEAR = DAYS_PER_YEAR / DAYS_PER_WEEK


def register_plan(sizing: Sizing, evidence: Evidence) -> FigureRegister:
    """Register every figure of a plan.

    Parameters
    ----------
    sizing
        The answers.
    evidence
        The counts they rest on.
    """
    settings = sizing.main.settings
    register = FigureRegister(
        sizing.program.council.name, settings.reporting_year, __version__, (), ""
    )
    _add_bins(register, sizing, evidence)
    _add_results(register, sizing)
    _add_times(register, sizing)
    add_one_bin(register, sizing)
    add_answers(register, sizing)
    add_scenarios(register, sizing)
    add_beliefs(register, sizing)
    return register


def _counted(evidence: Evidence) -> tuple[Input, ...]:
    return (
        of_query("households_by_group", evidence.households),
        of_query("registrations_by_month", evidence.registrations),
        of_query("handovers_by_month", evidence.handovers),
        of_query("costs_by_category", evidence.costs),
        of_query("turnout_by_event", evidence.turnout),
    )


def _add_bins(register: FigureRegister, sizing: Sizing, evidence: Evidence) -> None:
    settings, groups = sizing.main.settings, sizing.context.groups
    bins = sizing.main.allocation.bins_by_group
    inputs = (*_counted(evidence), of_key("sizing.objective", settings.objective))
    chosen, given = said("plan.figure.chosen"), float(bins.sum())
    register.add_exact("plan_bins", said("plan.figure.bins"), given, "bins", chosen, inputs)
    whole = of_figures("plan_bins")
    for name, label, counts in (
        ("plan_bins_by_area", groups.area_ids, _by(groups.area, bins, len(groups.area_ids))),
        ("plan_bins_by_dwelling", DWELLINGS, _by(groups.dwelling, bins, len(DWELLINGS))),
        ("plan_bins_by_model", [m.model_id for m in settings.models], bins.sum(axis=(0, 2))),
        ("plan_bins_by_round", [r.name for r in settings.rounds], bins.sum(axis=(0, 1))),
    ):
        for part, count in zip(label, counts, strict=True):
            words = said("plan.figure.bins_part", part=part)
            register.add_exact(f"{name}[{part}]", words, float(count), "bins", chosen, whole)
    for group, model, place in np.argwhere(bins > 0):
        names = (settings.models[model].model_id, settings.rounds[place].name)
        part, count = "/".join((groups.labels[group], *names)), float(bins[group, model, place])
        words = said("plan.figure.bins_part", part=part)
        register.add_exact(f"plan_bins[{part}]", words, count, "bins", chosen, whole)


def _by(place: NDArray[np.int64], bins: NDArray[np.int64], count: int) -> NDArray[np.float64]:
    sums = np.zeros(count)
    np.add.at(sums, place, bins.sum(axis=(1, 2)))
    return sums


def _add_results(register: FigureRegister, sizing: Sizing) -> None:
    """Add the sums over the horizon, each with its percentiles."""
    main, currency = sizing.main, sizing.program.council.currency
    factors = of_factors(
        sizing.table, [b.factor for b in sizing.inputs.beliefs if b.factor is not None]
    ) + of_figures(
        *(
            f"plan_input[{b.name}]"
            for b in sizing.inputs.beliefs
            if b.factor is None and b.unit != "rank"
        )
    )
    outcome = main.outcome
    for name, label, draws, unit, method, inputs in _results(sizing, factors):
        if name == "plan_cost_per_t" and outcome.kept_out_t.min() <= 0.0:
            register.add(Figure(name, label, None, None, None, unit, said("plan.figure.no_tonnes")))
            continue
        base = inputs if inputs or name == "plan_bins_given" else of_figures("plan_kept_out_t")
        register.add_draws(name, label, draws, unit, method, base or of_figures("plan_bins"))
        for percent in PERCENTILES:
            register.add_exact(
                f"{name}[p{percent}]",
                said("plan.figure.percentile", label=label, percent=percent),
                float(np.percentile(draws[1:], percent)),
                unit,
                method,
                of_figures(name),
            )
    _add_rates(register, sizing)
    _add_present_value(register, sizing)
    budget = main.settings.budget
    register.add_exact(
        "plan_budget",
        said("plan.figure.budget"),
        budget,
        currency,
        said("plan.figure.from_program"),
        (of_key("budget", budget),),
    )


def _results(
    sizing: Sizing, factors: tuple[Input, ...]
) -> Iterator[tuple[str, str, NDArray[np.float64], str, str, tuple[Input, ...]]]:
    """List results over the horizon: id, label, draws, unit, method, inputs."""
    main, currency = sizing.main, sizing.program.council.currency
    outcome, years = main.outcome, main.settings.horizon_years
    over = said("plan.figure.over", years=years) if years > 1 else said("plan.figure.in_its_year")
    saved = outcome.kept_out_t * main.settings.price_per_t
    of_both = of_figures("plan_cost", "plan_kept_out_t")
    for name, label, draws, unit, method, inputs in (
        ("bins_given", "bins_given", outcome.bins_given, "bins", "taken", ()),
        ("kept_out_t", "kept_out", outcome.kept_out_t, "t", "planned", factors),
        ("fed_t", "fed", outcome.fed_t, "t", "planned", ()),
        ("net_t_co2e", "net", outcome.net_t_co2e, "t CO2-e", "net_method", ()),
        ("cost", "cost", outcome.cost, currency, "cost_method", ()),
        ("cost_per_t", "cost_per_t", outcome.cost_per_t, f"{currency} per t",
         "cost_per_t_method", of_both),
        ("avoided_disposal_cost", "saved", saved, currency, "saved_method", of_both[1:]),
    ):  # fmt: skip
        words = said(f"plan.figure.{label}", over=over, year=main.settings.reporting_year)
        yield f"plan_{name}", words, draws, unit, said(f"plan.figure.{method}"), inputs


def _add_present_value(register: FigureRegister, sizing: Sizing) -> None:
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
    in_force = of_key("money.price_rise_share", money.price_rise_share)
    paid = of_key("money.support_cost_per_bin_year", money.support_cost_per_bin_year)
    changes = saved.sum(axis=1) - outcome.kept_out_t * settings.price_per_t
    steps = (
        ("plan_price_changes", "price_changes", changes, "changes", in_force),
        ("plan_support_cost", "support", support.sum(axis=1), "support", paid),
    )
    for name, label, draws, method, of_money in steps:
        inputs = (*of_figures("plan_kept_out_t"), of_money)
        told = said(f"plan.figure.{label}"), draws, currency, said(f"plan.figure.{method}_method")
        register.add_draws(name, *told, inputs)
    wording = Wording.of(sizing.program)
    lines = of_figures("plan_avoided_disposal_cost", "plan_cost", *(step[0] for step in steps))
    for rate in discount_rates(sizing.program, sizing.table):
        worth = net_present_value(saved, costs, rate)
        taken_off = (saved - costs).sum(axis=1) - worth
        for name, label, draws, method in (
            ("plan_discounting", "discounting", taken_off, "discounting_method"),
            ("plan_net_present_value", "present_value", worth, "worth_method"),
        ):
            words = said(f"plan.figure.{label}", rate=wording.share(rate, 1))
            told = words, draws, currency, said(f"plan.figure.{method}")
            register.add_draws(f"{name}[{rate:g}]", *told, lines)


def _known_prices(sizing: Sizing) -> dict[int, float]:
    """Levy and gate fee by year of the plan, in prices of its first: its own, and scenarios'."""
    settings, inflation = sizing.main.settings, sizing.program.money.inflation_share
    first = label_start(settings.reporting_year) or 0
    later = {year - first: sum(both) for year, both in sizing.program.prices().items()}
    known = {n: price / (1.0 + inflation) ** n for n, price in later.items() if n > 0}
    return {0: settings.price_per_t, **known}


def _add_rates(register: FigureRegister, sizing: Sizing) -> None:
    """Add what a planned bin is believed to do, as a report measures it."""
    main = sizing.main
    curves = retention_curves(sizing.draws, with_workshop=main.settings.with_workshop)
    mix = sizing.context.groups.by_dwelling(main.allocation.bins_by_group.sum(axis=(1, 2)) * 1.0)
    shares = np.stack([curve.in_use_share(np.array([12.0]))[:, 0] for curve in curves], axis=1)
    weight = mix / mix.sum() if mix.sum() else np.full(mix.size, 1.0 / mix.size)
    register.add_draws(
        "plan_in_use_12_months_share",
        said("plan.figure.in_use"),
        shares @ weight,
        "share",
        said("plan.figure.in_use_method"),
        of_figures("plan_bins"),
    )
    weeks = main.outcome.in_use_weeks_by_month.sum(axis=1)
    if weeks.min() > 0.0:
        register.add_draws(
            "plan_feed_kg_per_bin_week",
            said("plan.figure.feed"),
            main.outcome.fed_t * KG_PER_T / weeks,
            "kg a week",
            said("plan.figure.feed_method"),
            of_figures("plan_fed_t"),
        )


def _add_times(register: FigureRegister, sizing: Sizing) -> None:
    """Add tonnes by year and by month, of the plan's bins and with those given before."""
    outcome, earlier = sizing.main.outcome, sizing.earlier_t
    whole, planned = of_figures("plan_kept_out_t"), said("plan.figure.planned")
    planned_all = said("plan.figure.planned_all", planned=planned)
    for place, label in enumerate(plan_years(sizing)):
        new = outcome.kept_out_t_by_year[:, place]
        for name, words, draws, method in (
            ("plan_kept_out_t", "year", sizing.main.year_t[:, place], planned_all),
            ("plan_new_kept_out_t", "year_new", new, planned),
        ):
            told = said(f"plan.figure.{words}", when=label), draws, "t", method
            register.add_draws(f"{name}_in_year[{label}]", *told, whole)
    by_month = outcome.kept_out_t_by_month + earlier
    for place, day in enumerate(sizing.main.settings.months):
        month, draws = f"{day:%Y-%m}", by_month[:, place]
        figure_id, words = (
            f"plan_kept_out_t_in_month[{month}]",
            said("plan.figure.year", when=month),
        )
        register.add_draws(figure_id, words, draws, "t", planned_all, whole)
        for percent in PERCENTILES:
            register.add_exact(
                f"plan_kept_out_t_in_month_p{percent}[{month}]",
                said("plan.figure.month_percentile", when=month, percent=percent),
                float(np.percentile(draws[1:], percent)),
                "t",
                planned,
                of_figures(figure_id),
            )
