"""Figures of a plan's answers: target, frontier, limits, drivers, scenarios, beliefs, one bin."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.messages import paper, said
from planner.report.inputs import WordedFigures, key_input
from planner.report.plan.words import named
from planner.report.wording import Wording
from planner.units import KG_PER_T

if TYPE_CHECKING:
    from planner.sizing.plan import Compared
    from planner.sizing.sizing import Sizing

RESULTS = (
    ("kept_out_t", "of_tonnes"),
    ("net_t_co2e", "of_emissions"),
    ("cost_per_t", "of_cost_per_t"),
)


def add_answers(figures: WordedFigures, sizing: Sizing) -> None:
    """Add one bin, target, frontier, limits, drivers, the rule of thumb, scenarios and beliefs."""
    _add_one_bin(figures, sizing)
    _add_target(figures, sizing)
    _add_frontier(figures, sizing)
    whole = "plan_kept_out_t"
    for worth in sizing.binding:
        name = f"plan_worth_of_limit_t[{worth.limit.name}]"
        told = {"unit": worth.limit.unit, "limit": worth.limit.words}
        figures.put(name, "worth_of_limit", worth.tonnes, "t", "step_method", whole, **told)
    _add_drivers(figures, sizing)
    for step in sizing.steps:
        words = f"{step.words[0].lower()}{step.words[1:]}"
        name = f"plan_rule_of_thumb_t[{step.name}]"
        figures.put(name, "rule", step.tonnes, "t", "rule_method", "plan_bins", step=words)
    for compared in sizing.scenarios:
        _add_scenario(figures, sizing, compared)
    _add_beliefs(figures, sizing)


def _add_target(figures: WordedFigures, sizing: Sizing) -> None:
    settings, needed = sizing.main.settings, sizing.needed
    if settings.target_t is None or needed is None:
        return
    told: dict[str, str | int] = {
        "year": settings.target_year,
        "target": paper().decimal(settings.target_t, "#,##0.###"),
        "wished": paper().share(settings.target_confidence),
    }
    key = key_input("target", f"{settings.target_t:g} t in year {settings.target_year}")
    figures.put("plan_target_t", "target", settings.target_t, "t", "from_program", key)
    name, rests_on = "plan_chance_of_target", (key, "plan_kept_out_t")
    figures.put(name, "chance", sizing.chance, "share", "chance_method", *rests_on, **told)
    count, method = needed.bins_count, "needed_method"
    if count is None:
        chance = Wording.of(sizing.program).chance(needed.chance)
        most = needed.most_bins_count
        method = said("plan.needs_too_many", most=most, chance=chance, **told)
    bins = None if count is None else float(count)
    figures.put("plan_bins_needed", "needed", bins, "bins", method, key, **told)


def _add_frontier(figures: WordedFigures, sizing: Sizing) -> None:
    line, currency = sizing.frontier, sizing.program.council.currency
    fixed = sizing.world.fixed_cost
    for n in range(line.cost.size):
        for name, value, unit in (
            ("frontier_cost", line.cost[n] + fixed, currency),
            ("frontier_kept_out_t", line.tonnes[n], "t"),
            ("frontier_bins", line.bins_count[n], "bins"),
            ("frontier_marginal_cost_per_t", line.marginal_cost_per_t[n], f"{currency} per t"),
        ):
            known, method = None if np.isnan(value) else float(value), "frontier_method"
            figures.put(f"plan_{name}[{n}]", name, known, unit, method, "plan_kept_out_t", point=n)
    cost, unit = sizing.next_tonne_cost, f"{currency} per t"
    method = "no_next_tonne" if cost is None else "step_method"
    rests_on = ("plan_kept_out_t", "plan_cost")
    figures.put("plan_next_tonne_cost", "next_tonne", cost, unit, method, *rests_on)


def _add_drivers(figures: WordedFigures, sizing: Sizing) -> None:
    shares = sizing.drivers
    for column, (result, words) in enumerate(RESULTS):
        of_what = said(f"plan.figure.{words}")
        for row, driver in enumerate(shares.drivers):
            part = driver.lower().replace(" ", "_")
            told = {"driver": named("driver", driver), "result": of_what}
            for name, order, found in (
                ("variance_share", "first_order", shares.first_order),
                ("total_variance_share", "total_order", shares.total),
            ):
                figure_id, share = f"plan_{name}_of_{result}[{part}]", float(found[row, column])
                method, whole = "shares_method", f"plan_{result}"
                figures.put(figure_id, order, share, "share", method, whole, **told)


def _add_scenario(figures: WordedFigures, sizing: Sizing, compared: Compared) -> None:
    part = compared.name.replace("[", "(").replace("]", ")")
    plan = named("scenario", compared.name)
    if compared.plan is None:
        told = {"plan": plan, "result": said("plan.figure.of_tonnes"), "why": compared.reason}
        name = f"plan_scenario_kept_out_t[{part}]"
        figures.put(name, "scenario", None, "t", "scenario_none", **told)
        return
    currency = sizing.program.council.currency
    own, main = compared.plan.outcome, sizing.main.outcome
    name, label = f"plan_scenario_bins[{part}]", "scenario_bins"
    count = float(compared.plan.allocation.bins_count)
    figures.put(name, label, count, "bins", f"{label}_method", "plan_bins", plan=plan)
    for name, words, unit in (
        ("kept_out_t", "of_tonnes", "t"),
        ("net_t_co2e", "of_emissions", "t CO2-e"),
        ("cost", "of_cost", currency),
        ("cost_per_t", "of_cost_per_t", f"{currency} per t"),
    ):
        told = {"plan": plan, "result": said(f"plan.figure.{words}")}
        whole, difference = (f"plan_scenario_{name}{one}[{part}]" for one in ("", "_difference"))
        if name == "cost_per_t" and min(own.kept_out_t.min(), main.kept_out_t.min()) <= 0.0:
            for figure_id in (whole, difference):
                figures.put(figure_id, "scenario", None, unit, "no_tonnes_either", **told)
            continue
        drawn, base = getattr(own, name), f"plan_{name}"
        figures.put(whole, "scenario", drawn, unit, "same_draws", base, **told)
        gap = drawn - getattr(main, name)
        figures.put(difference, "scenario_difference", gap, unit, "same_draws", base, **told)


def _add_beliefs(figures: WordedFigures, sizing: Sizing) -> None:
    """Add every uncertain input; before and after, where something was learnt."""
    for one in sizing.inputs.beliefs:
        if one.unit != "rank":
            shape = said(f"factor_list.shape.{one.shape}")
            method = said("plan.figure.belief_method", origin=one.origin, shape=shape)
            limits = (one.value, one.low, one.high)
            figures.register.put(f"plan_input[{one.name}]", one.label, limits, one.unit, method)
    for learned in sizing.inputs.learned:
        method = said("plan.figure.learnt_method")
        if learned.effective_size is not None:
            count = round(learned.effective_size)
            method = said("plan.figure.learnt_worth", method=method, answers=count)
        for name, words, numbers in (
            ("plan_prior", "before_measuring", learned.prior),
            ("plan_measured", "measured", learned.measured),
            ("plan_posterior", "after_measuring", learned.posterior),
        ):
            told = (learned.unit, method)
            figures.put(f"{name}[{learned.name}]", words, numbers, *told, label=learned.label)


def _add_one_bin(figures: WordedFigures, sizing: Sizing) -> None:
    groups, world, settings = sizing.context.groups, sizing.world, sizing.main.settings
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
        borne = world.feed_kg_per_week[:, place] * world.exposed_share[:, place]
        kept_out = fed * world.kept_out_share[:, place]
        kept_out = kept_out - borne * (by_month @ world.moved_elsewhere_share[place])
        making = rates.making_kg_co2e[:, model]
        net = (
            kept_out * rates.avoided_kg_co2e_per_t - fed * rates.bin_gases_kg_co2e_per_t
        ) / KG_PER_T - making
        cost = (world.price + world.other_cost)[:, model]
        for name, words, draws, unit, method in (
            ("kept_out_kg", "kept_out", kept_out, "kg", "plan.one_bin.note"),
            ("net_kg_co2e", "net", net, "kg CO2-e", "plan.figure.one_bin_net_method"),
            ("cost", "cost", cost, currency, "plan.figure.one_bin_cost_method"),
        ):
            whole = "plan_cost" if name == "cost" else "plan_kept_out_t"
            figure_id, words_of = f"plan_one_bin_{name}[{label}]", f"one_bin_{words}"
            figures.put(figure_id, words_of, draws, unit, said(method), whole, group=label)
