"""Figures of a plan's answers: target, frontier, limits, drivers, scenarios, beliefs, one bin."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.figures import Figure
from planner.report.inputs import of_figures, of_key
from planner.units import KG_PER_T

if TYPE_CHECKING:
    from planner.figures import FigureRegister
    from planner.sizing.learning import Learned
    from planner.sizing.plan import Compared
    from planner.sizing.sizing import Sizing

FRONTIER = "The same integer program for another amount of money; cost with the fixed cost."
WORTH = (
    "The limit gives way by one step and the program is solved again; an integer program has no "
    "dual prices. Both solutions may split bins, so that the difference is no rounding."
)
SHARES = (
    "Sobol index by Saltelli's and Jansen's estimators over a scrambled Sobol sequence, inputs "
    "independent of each other; what the mixing leaves may be slightly below nothing."
)
LEARNT = (
    "Shares: beta-binomial, the survey counted at its effective sample size; quantities above "
    "zero: normal on the log scale. A measurement counts with sizing.last_year_weight."
)
NO_TONNES = "Not given: one of the plans may keep nothing out, so a cost per tonne has no meaning."
SAME_DRAWS = "Both plans on the same draws; the difference is taken draw by draw."
KEPT_OUT_BY_ONE = (
    "Weeks at full feed over the horizon × feed × share landfilled before, less both leaks, of a "
    "bin of the first model that suits, given in the first round."
)
ONE_BIN = (
    ("plan_one_bin_kept_out_kg", "kept out of landfill", "kg", KEPT_OUT_BY_ONE),
    (
        "plan_one_bin_net_kg_co2e",
        "emissions avoided",
        "kg CO2-e",
        "Landfill methane avoided minus the bin's gases and, in full, its making.",
    ),
)


def add_answers(register: FigureRegister, sizing: Sizing) -> None:
    """Add target, frontier, limits, drivers and the rule of thumb."""
    _add_target(register, sizing)
    _add_frontier(register, sizing)
    _add_limits(register, sizing)
    _add_drivers(register, sizing)
    for step in sizing.steps:
        register.add_exact(
            f"plan_rule_of_thumb_t[{step.name}]",
            f"From the rule of thumb to the plan's first year: {step.words.lower()}",
            step.tonnes,
            "t",
            "Each step puts the plan's central number in the place of the rule's.",
            of_figures("plan_bins"),
        )


def _add_target(register: FigureRegister, sizing: Sizing) -> None:
    settings, needed = sizing.main.settings, sizing.needed
    if settings.target_t is None or needed is None:
        return
    key = of_key("target", f"{settings.target_t:g} t in year {settings.target_year}")
    register.add_exact(
        "plan_target_t", "Target", settings.target_t, "t", "From the program file.", (key,)
    )
    register.add_exact(
        "plan_chance_of_target",
        f"Chance that year {settings.target_year} of the plan reaches {settings.target_t:g} t",
        sizing.chance,
        "share",
        "Share of the draws in which all bins together keep so much out.",
        (key, *of_figures("plan_kept_out_t")),
    )
    wished = f"{settings.target_confidence:.0%}"
    method = (
        f"Fewest bins, placed as the plan would place them, that reach it in {wished} of draws."
    )
    if needed.bins_count is None:
        method = (
            f"Not given: even {needed.most_bins_count:,} bins, all that the other limits allow, "
            f"reach it in {needed.chance:.0%} of the draws only."
        )
    register.add_exact(
        "plan_bins_needed",
        f"Bins that reach {settings.target_t:g} t with {wished} confidence",
        None if needed.bins_count is None else float(needed.bins_count),
        "bins",
        method,
        (key,),
    )


def _add_frontier(register: FigureRegister, sizing: Sizing) -> None:
    line, currency = sizing.frontier, sizing.program.council.currency
    fixed = sizing.main.world.fixed_cost
    for n in range(line.cost.size):
        whole = of_figures("plan_kept_out_t")
        for name, label, value, unit in (
            ("plan_frontier_cost", "money", line.cost[n] + fixed, currency),
            ("plan_frontier_kept_out_t", "tonnes kept out", line.tonnes[n], "t"),
            ("plan_frontier_bins", "bins", line.bins_count[n], "bins"),
            (
                "plan_frontier_marginal_cost_per_t",
                "cost of a further tonne since the point before",
                line.marginal_cost_per_t[n],
                f"{currency} per t",
            ),
        ):
            known = None if np.isnan(value) else float(value)
            words = f"Frontier, point {n}: {label}"
            register.add_exact(f"{name}[{n}]", words, known, unit, FRONTIER, whole)
    register.add_exact(
        "plan_next_tonne_cost",
        "Cost of the next tonne beyond the plan",
        sizing.next_tonne_cost,
        f"{currency} per t",
        WORTH
        if sizing.next_tonne_cost is not None
        else "Not given: within the limits other than money no further tonne can be had.",
        of_figures("plan_kept_out_t", "plan_cost"),
    )


def _add_limits(register: FigureRegister, sizing: Sizing) -> None:
    for worth in sizing.binding:
        register.add_exact(
            f"plan_worth_of_limit_t[{worth.limit.name}]",
            f"What one more {worth.limit.unit} is worth: {worth.limit.words}",
            worth.tonnes,
            "t",
            WORTH,
            of_figures("plan_kept_out_t"),
        )


def _add_drivers(register: FigureRegister, sizing: Sizing) -> None:
    shares = sizing.drivers
    for column, (result, words) in enumerate(
        (
            ("kept_out_t", "tonnes kept out"),
            ("net_t_co2e", "emissions avoided"),
            ("cost_per_t", "cost per tonne"),
        )
    ):
        whole = of_figures(f"plan_{result}")
        for row, driver in enumerate(shares.drivers):
            part = driver.lower().replace(" ", "_")
            register.add_exact(
                f"plan_variance_share_of_{result}[{part}]",
                f"{driver}: share of the variance of {words} that it brings alone",
                float(shares.first_order[row, column]),
                "share",
                SHARES,
                whole,
            )
            register.add_exact(
                f"plan_total_variance_share_of_{result}[{part}]",
                f"{driver}: share of the variance of {words}, with what it brings together "
                "with others",
                float(shares.total[row, column]),
                "share",
                SHARES,
                whole,
            )


def add_scenarios(register: FigureRegister, sizing: Sizing) -> None:
    """Add each scenario's results and their differences from the plan."""
    for compared in sizing.scenarios:
        if compared.plan is None:
            register.add(
                Figure(
                    f"plan_scenario_kept_out_t[{part_of(compared)}]",
                    f"{compared.name}: tonnes kept out",
                    None,
                    None,
                    None,
                    "t",
                    f"Not given. {compared.why_not}",
                )
            )
            continue
        _add_scenario(register, sizing, compared)


def part_of(compared: Compared) -> str:
    """Name of a scenario between brackets."""
    return compared.name.replace("[", "(").replace("]", ")")


def _add_scenario(register: FigureRegister, sizing: Sizing, compared: Compared) -> None:
    if compared.plan is None:
        return
    currency, part = sizing.program.council.currency, part_of(compared)
    own, main = compared.plan.outcome, sizing.main.outcome
    register.add_exact(
        f"plan_scenario_bins[{part}]",
        f"{compared.name}: bins to give",
        float(compared.plan.allocation.bins_count),
        "bins",
        "The plan chosen again with what the scenario changes.",
        of_figures("plan_bins"),
    )
    for name, words, draws, reference, unit in (
        ("kept_out_t", "tonnes kept out", own.kept_out_t, main.kept_out_t, "t"),
        ("net_t_co2e", "emissions avoided", own.net_t_co2e, main.net_t_co2e, "t CO2-e"),
        ("cost", "cost", own.cost, main.cost, currency),
        ("cost_per_t", "cost per tonne", own.cost_per_t, main.cost_per_t, f"{currency} per t"),
    ):
        base = of_figures(f"plan_{name}")
        if name == "cost_per_t" and min(own.kept_out_t.min(), main.kept_out_t.min()) <= 0.0:
            for figure_id in (f"plan_scenario_{name}", f"plan_scenario_{name}_difference"):
                label = f"{compared.name}: {words}"
                register.add(
                    Figure(f"{figure_id}[{part}]", label, None, None, None, unit, NO_TONNES)
                )
            continue
        register.add_draws(
            f"plan_scenario_{name}[{part}]",
            f"{compared.name}: {words}",
            draws,
            unit,
            SAME_DRAWS,
            base,
        )
        register.add_draws(
            f"plan_scenario_{name}_difference[{part}]",
            f"{compared.name}: {words}, minus those of the plan",
            draws - reference,
            unit,
            SAME_DRAWS,
            base,
        )


def add_beliefs(register: FigureRegister, sizing: Sizing) -> None:
    """Add every uncertain input; before and after, where something was learnt."""
    for belief in sizing.inputs.beliefs:
        if belief.unit == "rank":
            continue
        register.add(
            Figure(
                f"plan_input[{belief.name}]",
                belief.label,
                belief.value,
                belief.low,
                belief.high,
                belief.unit,
                f"{belief.origin}. Shape: {belief.shape}.",
            )
        )
    for learned in sizing.inputs.learned:
        _add_learned(register, learned)


def _add_learned(register: FigureRegister, learned: Learned) -> None:
    worth = (
        ""
        if learned.effective_size is None
        else f" The measurement is worth {learned.effective_size:,.0f} independent answers."
    )
    for name, words, numbers in (
        ("plan_prior", "before measuring", learned.prior),
        ("plan_measured", "measured", learned.measured),
        ("plan_posterior", "after measuring", learned.posterior),
    ):
        value, low, high = numbers
        register.add(
            Figure(
                f"{name}[{learned.name}]",
                f"{learned.label}, {words}",
                value,
                low,
                high,
                learned.unit,
                f"{LEARNT}{worth}",
            )
        )


def add_one_bin(register: FigureRegister, sizing: Sizing) -> None:
    """Add what one bin keeps out, avoids and costs in each area and dwelling.

    Parameters
    ----------
    register
        Takes the figures.
    sizing
        The answers.
    """
    groups, world, settings = sizing.context.groups, sizing.main.world, sizing.main.settings
    currency = sizing.program.council.currency
    rates = world.rates
    for place, label in enumerate(groups.labels):
        code = int(groups.dwelling[place])
        if not settings.suits[code].any():
            continue
        model = int(np.argmax(settings.suits[code]))
        weeks = world.bins[code][model].full_feed_weeks[:, :, 0].sum(axis=1)
        fed = weeks * world.feed_kg_per_week[:, place]
        by_month = world.bins[code][model].full_feed_weeks[:, :, 0]
        borne = world.feed_kg_per_week[:, place] * world.scenario_share[:, place]
        kept_out = fed * world.kept_out_share[:, place]
        kept_out = kept_out - borne * (by_month @ world.leaves[place])
        making = rates.making_kg_co2e[:, model]
        net = (
            kept_out * rates.avoided_kg_co2e_per_t - fed * rates.caused_kg_co2e_per_t
        ) / KG_PER_T - making
        cost = (world.price + world.other_cost)[:, model]
        for (name, words, unit, method), draws in zip(ONE_BIN, (kept_out, net), strict=True):
            register.add_draws(
                f"{name}[{label}]",
                f"One bin in {label}: {words}",
                draws,
                unit,
                method,
                of_figures("plan_kept_out_t"),
            )
        register.add_draws(
            f"plan_one_bin_cost[{label}]",
            f"One bin in {label}: cost",
            cost,
            currency,
            "Price, worms, bedding and hand-over, minus the co-payment.",
            of_figures("plan_cost"),
        )
