"""Figures of a plan: bins, tonnes, emissions and cost, and how sure they are."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner import __version__
from planner.figures import Figure, FigureRegister
from planner.money import net_present_value, price_path
from planner.program.giveaway import label_start, year_label
from planner.report.appraising import discount_rates
from planner.report.inputs import of_factors, of_figures, of_key, of_query
from planner.report.plan.answers import add_answers, add_beliefs, add_one_bin, add_scenarios
from planner.sizing.plan import by_year
from planner.sizing.world import retention_curves
from planner.tables import DWELLINGS
from planner.units import DAYS_PER_WEEK, DAYS_PER_YEAR, KG_PER_T

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.figures import Input
    from planner.sizing.evidence import Evidence
    from planner.sizing.sizing import Sizing

PERCENTILES = (10, 50, 90)
WEEKS_PER_YEAR = DAYS_PER_YEAR / DAYS_PER_WEEK

PLANNED = (
    "Planned bins × share in use by age × share of the full feed that the worms can take × "
    "weeks × feed of an in-use bin × share landfilled before, less what would "
    "have been composted anyway or is thrown away after all, as in the measured estimate."
)
CHOSEN = (
    "Integer program over areas, dwellings, models and rounds, within every limit. Groups in which "
    "few households wait share what waits in all of them by their households."
)
TAKEN = "Bins planned, or fewer where fewer households want one by then."
NET = (
    "Landfill methane avoided over 100 years minus the bins' own gases and what it takes to make "
    "and move them, in full in the year in which they are acquired. Not an offset."
)
NO_TONNES = "Not given: the plan's bins may keep nothing out, so a cost per tonne has no meaning."
CHANGES = (
    "Tonnes of each year × its levy and gate fee in money of the plan's first year, minus the same "
    "tonnes at the first year's prices: stated changes of price, and the rise beyond inflation."
)
SUPPORT = "Years in use of the plan's bins × support of a bin in use for a year, not discounted."
WORTH = (
    "Levy and gate fee saved, with their changes, minus the plan's cost and the support of bins in "
    "use, in money of its first year. Bins that last beyond the horizon count for nothing there."
)
COST = "Bins bought × price, bins taken × cost of handing over minus the co-payment, fixed cost."


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


def plan_years(sizing: Sizing) -> tuple[str, ...]:
    """Labels of the reporting years of the horizon."""
    settings = sizing.main.settings
    first = label_start(settings.reporting_year) or 0
    month = sizing.program.council.reporting_year_first_month
    return tuple(year_label(first + n, month) for n in range(settings.horizon_years))


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
    register.add_exact("plan_bins", "Bins to give", float(bins.sum()), "bins", CHOSEN, inputs)
    whole = of_figures("plan_bins")
    for name, label, counts in (
        ("plan_bins_by_area", groups.area_ids, _by(groups.area, bins, len(groups.area_ids))),
        ("plan_bins_by_dwelling", DWELLINGS, _by(groups.dwelling, bins, len(DWELLINGS))),
        ("plan_bins_by_model", [m.model_id for m in settings.models], bins.sum(axis=(0, 2))),
        ("plan_bins_by_round", [r.name for r in settings.rounds], bins.sum(axis=(0, 1))),
    ):
        for part, count in zip(label, counts, strict=True):
            words = f"Bins to give: {part}"
            register.add_exact(f"{name}[{part}]", words, float(count), "bins", CHOSEN, whole)
    for group, model, place in np.argwhere(bins > 0):
        part = "/".join(
            (
                groups.labels[group],
                settings.models[model].model_id,
                settings.rounds[place].name,
            )
        )
        count = float(bins[group, model, place])
        register.add_exact(
            f"plan_bins[{part}]", f"Bins to give: {part}", count, "bins", CHOSEN, whole
        )


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
            register.add(Figure(name, label, None, None, None, unit, NO_TONNES))
            continue
        base = inputs if inputs or name == "plan_bins_given" else of_figures("plan_kept_out_t")
        register.add_draws(name, label, draws, unit, method, base or of_figures("plan_bins"))
        for percent in PERCENTILES:
            register.add_exact(
                f"{name}[p{percent}]",
                f"{label}: {percent} in 100 draws are below",
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
        "Budget",
        budget,
        currency,
        "From the program file.",
        (of_key("budget", budget),),
    )


def _results(
    sizing: Sizing, factors: tuple[Input, ...]
) -> tuple[tuple[str, str, NDArray[np.float64], str, str, tuple[Input, ...]], ...]:
    """List results over the horizon: id, label, draws, unit, method, inputs."""
    main, currency = sizing.main, sizing.program.council.currency
    years = main.settings.horizon_years
    outcome = main.outcome
    over = f"over {years} years" if years > 1 else "in its year"
    return (
        ("plan_bins_given", "Bins that households take", outcome.bins_given, "bins", TAKEN, ()),
        (
            "plan_kept_out_t",
            f"Food scraps that the plan's bins keep out of landfill {over}",
            outcome.kept_out_t,
            "t",
            PLANNED,
            factors,
        ),
        (
            "plan_fed_t",
            f"Food scraps fed to the plan's bins {over}",
            outcome.fed_t,
            "t",
            PLANNED,
            (),
        ),
        (
            "plan_net_t_co2e",
            f"Emissions that the plan avoids {over}",
            outcome.net_t_co2e,
            "t CO2-e",
            NET,
            (),
        ),
        ("plan_cost", "Cost of the plan", outcome.cost, currency, COST, ()),
        (
            "plan_cost_per_t",
            "Cost of the plan for each tonne kept out over the horizon",
            outcome.cost_per_t,
            f"{currency} per t",
            "Cost over tonnes, draw by draw.",
            of_figures("plan_cost", "plan_kept_out_t"),
        ),
        (
            "plan_avoided_disposal_cost",
            f"Levy and gate fee saved {over}, at the prices of {main.settings.reporting_year}",
            outcome.kept_out_t * main.settings.price_per_t,
            currency,
            "Tonnes kept out × levy and gate fee, not discounted.",
            of_figures("plan_kept_out_t"),
        ),
    )


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
    steps = [
        ("plan_price_changes", "Changes of levy and gate fee beyond inflation", changes, CHANGES),
        ("plan_support_cost", "Support of the plan's bins in use", support.sum(axis=1), SUPPORT),
    ]
    for name, label, draws, method in steps:
        of_money = paid if name == "plan_support_cost" else in_force
        inputs = (*of_figures("plan_kept_out_t"), of_money)
        register.add_draws(name, label, draws, currency, method, inputs)
    lines = of_figures("plan_avoided_disposal_cost", "plan_cost", *(step[0] for step in steps))
    for rate in discount_rates(sizing.program, sizing.table):
        worth = net_present_value(saved, costs, rate)
        for name, label, draws, method in (
            (
                "plan_discounting",
                f"Taken off for years to come, at {rate:.1%} a year",
                (saved - costs).sum(axis=1) - worth,
                "Savings less costs of all years, minus what they are worth in the first.",
            ),
            (
                "plan_net_present_value",
                f"Net present value of the plan at {rate:.1%} a year",
                worth,
                WORTH,
            ),
        ):
            register.add_draws(f"{name}[{rate:g}]", label, draws, currency, method, lines)


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
        "Share of the plan's bins in use 12 months after the hand-over",
        shares @ weight,
        "share",
        "Beliefs of the dwellings, weighted by their bins.",
        of_figures("plan_bins"),
    )
    weeks = main.outcome.in_use_weeks_by_month.sum(axis=1)
    if weeks.min() > 0.0:
        register.add_draws(
            "plan_feed_kg_per_bin_week",
            "Food scraps fed to a planned bin in use, over the horizon",
            main.outcome.fed_t * KG_PER_T / weeks,
            "kg a week",
            "Scraps fed over the weeks in which bins are in use.",
            of_figures("plan_fed_t"),
        )


def _add_times(register: FigureRegister, sizing: Sizing) -> None:
    """Add tonnes by year and by month, of the plan's bins and with those given before."""
    outcome, earlier = sizing.main.outcome, sizing.earlier_t
    whole = of_figures("plan_kept_out_t")
    for place, label in enumerate(plan_years(sizing)):
        register.add_draws(
            f"plan_kept_out_t_in_year[{label}]",
            f"Food scraps kept out of landfill in {label} by all bins",
            sizing.main.year_t[:, place],
            "t",
            f"{PLANNED} With bins given before.",
            whole,
        )
        register.add_draws(
            f"plan_new_kept_out_t_in_year[{label}]",
            f"Food scraps kept out of landfill in {label} by the plan's bins",
            outcome.kept_out_t_by_year[:, place],
            "t",
            PLANNED,
            whole,
        )
    for place, month in enumerate(sizing.main.settings.months):
        register.add_draws(
            f"plan_kept_out_t_in_month[{month:%Y-%m}]",
            f"Food scraps kept out of landfill in {month:%Y-%m} by all bins",
            outcome.kept_out_t_by_month[:, place] + earlier[:, place],
            "t",
            f"{PLANNED} With bins given before.",
            whole,
        )
    _add_month_percentiles(register, sizing)


def _add_month_percentiles(register: FigureRegister, sizing: Sizing) -> None:
    by_month = sizing.main.outcome.kept_out_t_by_month + sizing.earlier_t
    for percent in PERCENTILES:
        values = np.percentile(by_month[1:], percent, axis=0)
        for month, value in zip(sizing.main.settings.months, values, strict=True):
            register.add_exact(
                f"plan_kept_out_t_in_month_p{percent}[{month:%Y-%m}]",
                f"Food scraps kept out of landfill in {month:%Y-%m}: {percent} in 100 are below",
                float(value),
                "t",
                PLANNED,
                of_figures(f"plan_kept_out_t_in_month[{month:%Y-%m}]"),
            )
