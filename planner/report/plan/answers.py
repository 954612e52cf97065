"""Figures of a plan's answers: target, frontier, limits, drivers, scenarios, beliefs, one bin."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.figures import Figure
from planner.messages import paper
from planner.report.inputs import of_figures, of_key
from planner.report.plan.words import named, said
from planner.report.wording import Wording
from planner.units import KG_PER_T

if TYPE_CHECKING:
    from planner.figures import FigureRegister
    from planner.sizing.learning import Learned
    from planner.sizing.plan import Compared
    from planner.sizing.sizing import Sizing

RESULTS = (
    ("kept_out_t", "of_tonnes"),
    ("net_t_co2e", "of_emissions"),
    ("cost_per_t", "of_cost_per_t"),
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
            said("plan.figure.rule", step=f"{step.words[0].lower()}{step.words[1:]}"),
            step.tonnes,
            "t",
            said("plan.figure.rule_method"),
            of_figures("plan_bins"),
        )


def _add_target(register: FigureRegister, sizing: Sizing) -> None:
    settings, needed = sizing.main.settings, sizing.needed
    if settings.target_t is None or needed is None:
        return
    target = paper().decimal(settings.target_t, "#,##0.###")
    key = of_key("target", f"{settings.target_t:g} t in year {settings.target_year}")
    register.add_exact(
        "plan_target_t",
        said("plan.figure.target"),
        settings.target_t,
        "t",
        said("plan.figure.from_program"),
        (key,),
    )
    register.add_exact(
        "plan_chance_of_target",
        said("plan.figure.chance", year=settings.target_year, target=target),
        sizing.chance,
        "share",
        said("plan.figure.chance_method"),
        (key, *of_figures("plan_kept_out_t")),
    )
    wished = paper().share(settings.target_confidence)
    method = said("plan.figure.needed_method", wished=wished)
    if needed.bins_count is None:
        method = said(
            "plan.needs_too_many",
            target=target,
            wished=wished,
            most=needed.most_bins_count,
            chance=Wording.of(sizing.program).chance(needed.chance),
        )
    register.add_exact(
        "plan_bins_needed",
        said("plan.figure.needed", target=target, wished=wished),
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
        for name, value, unit in (
            ("frontier_cost", line.cost[n] + fixed, currency),
            ("frontier_kept_out_t", line.tonnes[n], "t"),
            ("frontier_bins", line.bins_count[n], "bins"),
            ("frontier_marginal_cost_per_t", line.marginal_cost_per_t[n], f"{currency} per t"),
        ):
            known = None if np.isnan(value) else float(value)
            words, method = (
                said(f"plan.figure.{name}", point=n),
                said("plan.figure.frontier_method"),
            )
            register.add_exact(f"plan_{name}[{n}]", words, known, unit, method, whole)
    register.add_exact(
        "plan_next_tonne_cost",
        said("plan.figure.next_tonne"),
        sizing.next_tonne_cost,
        f"{currency} per t",
        said(f"plan.figure.{'no_next_tonne' if sizing.next_tonne_cost is None else 'step_method'}"),
        of_figures("plan_kept_out_t", "plan_cost"),
    )


def _add_limits(register: FigureRegister, sizing: Sizing) -> None:
    for worth in sizing.binding:
        register.add_exact(
            f"plan_worth_of_limit_t[{worth.limit.name}]",
            said("plan.figure.worth_of_limit", unit=worth.limit.unit, limit=worth.limit.words),
            worth.tonnes,
            "t",
            said("plan.figure.step_method"),
            of_figures("plan_kept_out_t"),
        )


def _add_drivers(register: FigureRegister, sizing: Sizing) -> None:
    shares = sizing.drivers
    method = said("plan.figure.shares_method")
    for column, (result, words) in enumerate(RESULTS):
        whole, of_what = of_figures(f"plan_{result}"), said(f"plan.figure.{words}")
        for row, driver in enumerate(shares.drivers):
            part = driver.lower().replace(" ", "_")
            told = {"driver": named("driver", driver), "result": of_what}
            for name, words, values in (
                ("plan_variance_share", "first_order", shares.first_order),
                ("plan_total_variance_share", "total_order", shares.total),
            ):
                figure_id, share = f"{name}_of_{result}[{part}]", float(values[row, column])
                words = said(f"plan.figure.{words}", **told)
                register.add_exact(figure_id, words, share, "share", method, whole)


def add_scenarios(register: FigureRegister, sizing: Sizing) -> None:
    """Add each scenario's results and their differences from the plan."""
    for compared in sizing.scenarios:
        if compared.plan is None:
            register.add(
                Figure(
                    f"plan_scenario_kept_out_t[{part_of(compared)}]",
                    _of_scenario(compared, "of_tonnes"),
                    None,
                    None,
                    None,
                    "t",
                    said("plan.figure.scenario_none", why=compared.why_not),
                )
            )
            continue
        _add_scenario(register, sizing, compared)


def part_of(compared: Compared) -> str:
    """Name of a scenario between brackets."""
    return compared.name.replace("[", "(").replace("]", ")")


def _of_scenario(compared: Compared, result: str, key: str = "scenario") -> str:
    of_what = said(f"plan.figure.{result}")
    return said(f"plan.figure.{key}", plan=named("scenario", compared.name), result=of_what)


def _add_scenario(register: FigureRegister, sizing: Sizing, compared: Compared) -> None:
    if compared.plan is None:
        return
    currency, part = sizing.program.council.currency, part_of(compared)
    own, main = compared.plan.outcome, sizing.main.outcome
    register.add_exact(
        f"plan_scenario_bins[{part}]",
        said("plan.figure.scenario_bins", plan=named("scenario", compared.name)),
        float(compared.plan.allocation.bins_count),
        "bins",
        said("plan.figure.scenario_bins_method"),
        of_figures("plan_bins"),
    )
    for name, words, draws, reference, unit in (
        ("kept_out_t", "of_tonnes", own.kept_out_t, main.kept_out_t, "t"),
        ("net_t_co2e", "of_emissions", own.net_t_co2e, main.net_t_co2e, "t CO2-e"),
        ("cost", "of_cost", own.cost, main.cost, currency),
        ("cost_per_t", "of_cost_per_t", own.cost_per_t, main.cost_per_t, f"{currency} per t"),
    ):
        base = of_figures(f"plan_{name}")
        if name == "cost_per_t" and min(own.kept_out_t.min(), main.kept_out_t.min()) <= 0.0:
            for figure_id in (f"plan_scenario_{name}", f"plan_scenario_{name}_difference"):
                label, why = _of_scenario(compared, words), said("plan.figure.no_tonnes_either")
                register.add(Figure(f"{figure_id}[{part}]", label, None, None, None, unit, why))
            continue
        method = said("plan.figure.same_draws")
        pairs = (("", draws), ("_difference", draws - reference))
        for what, shown in pairs:
            told = _of_scenario(compared, words, f"scenario{what}"), shown, unit, method
            register.add_draws(f"plan_scenario_{name}{what}[{part}]", *told, base)


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
                said(
                    "plan.figure.belief_method",
                    origin=belief.origin,
                    shape=said(f"factor_list.shape.{belief.shape}"),
                ),
            )
        )
    for learned in sizing.inputs.learned:
        _add_learned(register, learned)


def _add_learned(register: FigureRegister, learned: Learned) -> None:
    method = said("plan.figure.learnt_method")
    if learned.effective_size is not None:
        count = round(learned.effective_size)
        method = said("plan.figure.learnt_worth", method=method, answers=count)
    for name, words, numbers in (
        ("plan_prior", "before_measuring", learned.prior),
        ("plan_measured", "measured", learned.measured),
        ("plan_posterior", "after_measuring", learned.posterior),
    ):
        value, low, high = numbers
        register.add(
            Figure(
                f"{name}[{learned.name}]",
                said(f"plan.figure.{words}", label=learned.label),
                value,
                low,
                high,
                learned.unit,
                method,
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
    of_tonnes, of_cost = of_figures("plan_kept_out_t"), of_figures("plan_cost")
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
        for name, words, draws, unit, method, whole in (
            ("kept_out_kg", "kept_out", kept_out, "kg", "plan.one_bin.note", of_tonnes),
            ("net_kg_co2e", "net", net, "kg CO2-e", "plan.figure.one_bin_net_method", of_tonnes),
            ("cost", "cost", cost, currency, "plan.figure.one_bin_cost_method", of_cost),
        ):
            told = said(f"plan.figure.one_bin_{words}", group=label), draws, unit
            register.add_draws(f"plan_one_bin_{name}[{label}]", *told, said(method), whole)
