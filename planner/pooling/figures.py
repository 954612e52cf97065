"""The figures of a state report."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from planner import __version__
from planner.arrays import Numbers
from planner.figures import INTERVAL_PERCENT, FigureRegister, Input
from planner.messages import said
from planner.pooling.contract import DRAWS_COUNT, RATES, SEED, TOTALS, label_of

if TYPE_CHECKING:
    from planner.pooling.partial import Pooled
    from planner.pooling.pool import Pool

COST_PER_T = "cost_per_kept_out_t"


def register_pool(pool: Pool) -> FigureRegister:
    """Register every figure of a state report."""
    register = FigureRegister(
        pool.title,
        pool.label,
        __version__,
        tuple(
            f"{one.council}, {one.reporting_year}, planner {one.version}"
            for one in (export.about for export in pool.exports)
        ),
        draws_count=DRAWS_COUNT,
        seed=SEED,
    )
    names = slugs(pool)
    for name in TOTALS:
        _add_total(register, pool, name, names)
    _add_cost_per_t(register, pool)
    for pooled in pool.rates.values():
        _add_rate(register, pooled, names)
    return register


def slugs(pool: Pool) -> tuple[str, ...]:
    """Short names of the councils for ids, in their order, none twice."""
    found: list[str] = []
    for export in pool.exports:
        slug = re.sub(r"[^a-z0-9]+", "_", export.about.council.casefold()).strip("_") or "council"
        same = sum(one == slug or one.startswith(f"{slug}_no_") for one in found)
        found.append(f"{slug}_no_{same + 1}" if same else slug)
    return tuple(found)


def _add_total(register: FigureRegister, pool: Pool, name: str, names: tuple[str, ...]) -> None:
    quantity = TOTALS[name]
    unit = pool.currency if quantity.is_money else quantity.unit
    inputs = [Input("figure", f"{name}[{council}]") for council in names]
    words = label_of(name)
    register.put(name, words, _drawn(pool.totals[name]), unit, _method("sum"), inputs)
    for council, export in zip(names, pool.exports, strict=True):
        label = said("pooled.figure.of", label=words, council=export.about.council)
        draws = _drawn(export.totals[name])
        register.put(f"{name}[{council}]", label, draws, unit, _method("of_council"))
    if np.ptp(pool.totals[name][1:]) > 0.0:
        register.put(
            f"shared_error_ratio[{name}]",
            said("pooled.figure.shared", label=words),
            _width(pool.totals[name]) / max(_width(pool.if_independent[name]), 1e-12),
            "ratio",
            _method("shared"),
            [Input("figure", name)],
        )


def _add_cost_per_t(register: FigureRegister, pool: Pool) -> None:
    kept, cost = pool.totals["kept_out_of_landfill_t"], pool.totals["program_cost"]
    if (kept > 0.0).all():
        register.put(
            COST_PER_T,
            said("pooled.figure.cost_per_t"),
            cost / kept,
            f"{pool.currency} per t",
            _method("cost_per_t"),
            [Input("figure", "program_cost"), Input("figure", "kept_out_of_landfill_t")],
        )


def _add_rate(register: FigureRegister, pooled: Pooled, names: tuple[str, ...]) -> None:
    name = pooled.name
    label, unit, add = label_of(name), RATES[name].unit, register.put
    mean, new, of_own = (
        said(f"pooled.figure.{key}", label=label) for key in ("mean", "new", "own")
    )
    add(f"{name}_mean", mean, pooled.mean, unit, _method("middle"))
    add(f"{name}_new", new, pooled.new_council, unit, _method("new"))
    for column, place in enumerate(pooled.places):
        council = names[place]
        own = Input("figure", f"{name}_own[{council}]")
        measured = pooled.measured[:, column]
        add(f"{name}_own[{council}]", of_own, measured, unit, _method("of_council"))
        add(f"{name}[{council}]", label, pooled.shrunk[:, column], unit, _method("shrunk"), [own])
        for kind, value in (
            ("own_weight", pooled.own_weight[column]),
            ("chance_above", pooled.chance_above[column]),
        ):
            method = _method(kind)
            words = said("pooled.figure.of", label=label, council=method)
            figure_id = f"{name}_{kind}[{council}]"
            add(figure_id, words, float(value), "share", method, [own])


def _method(key: str) -> str:
    return said(f"pooled.method.{key}")


def _drawn(draws: Numbers) -> Numbers | float:
    """Give the one number of draws that are all the same, else the draws."""
    return draws if np.ptp(draws) else float(draws[0])


def _width(draws: Numbers) -> float:
    low, high = np.percentile(draws[1:], INTERVAL_PERCENT)
    return float(high - low)
