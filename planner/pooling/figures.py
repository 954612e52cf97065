"""The register of a state report: every total, every council's share of it, every rate."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from planner import __version__
from planner.figures import FigureRegister, Input
from planner.pooling.contract import DRAWS_COUNT, RATES, TOTALS
from planner.pooling.pool import SEED
from planner.units import PER_CENT

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.pooling.contract import Export
    from planner.pooling.partial import Pooled
    from planner.pooling.pool import Pool

SUM = "Sum over the councils, draw by draw; a draw holds the same published factors in all of them."
OF_COUNCIL = "As the council exported it."
SHRUNK = (
    "The council's own estimate and those of the others, each by how well it is known "
    "(Fay and Herriot 1979); the variance between councils is estimated."
)
MIDDLE = "Mean over the councils of their pooled estimates."
NEW = "Draws of one more council: the mean, and how councils differ."
OWN_WEIGHT = "Survey's precision over the precision of survey and other councils together."
ABOVE = "Share of the draws in which the council lies above the mean of the councils."
SHARED = (
    "Width of the interval with shared factors over its width if they erred in each council by "
    "themselves."
)
COST_PER_T = "cost_per_kept_out_t"


def register_pool(pool: Pool) -> FigureRegister:
    """Register every figure of a state report.

    Parameters
    ----------
    pool
        The councils.
    """
    register = FigureRegister(
        pool.title,
        pool.label,
        __version__,
        tuple(_file_line(export) for export in pool.exports),
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


def _file_line(export: Export) -> str:
    about = export.about
    return f"{about.council}, {about.reporting_year}, planner {about.version}"


def _add_total(register: FigureRegister, pool: Pool, name: str, names: tuple[str, ...]) -> None:
    quantity = TOTALS[name]
    unit = pool.currency if quantity.is_money else quantity.unit
    inputs = [Input("figure", f"{name}[{council}]") for council in names]
    _add(register, name, quantity.label, pool.totals[name], unit, SUM, inputs)
    for council, export in zip(names, pool.exports, strict=True):
        label = f"{quantity.label}: {export.about.council}"
        draws = export.totals[name]
        _add(register, f"{name}[{council}]", label, draws, unit, OF_COUNCIL, [])
    if np.ptp(pool.totals[name][1:]) > 0.0:
        register.add_exact(
            f"shared_error_ratio[{name}]",
            f"How much wider shared errors make the interval: {quantity.label}",
            _width(pool.totals[name]) / max(_width(pool.apart[name]), 1e-12),
            "ratio",
            SHARED,
            [Input("figure", name)],
        )


def _add_cost_per_t(register: FigureRegister, pool: Pool) -> None:
    kept, cost = pool.totals["kept_out_of_landfill_t"], pool.totals["program_cost"]
    if (kept > 0.0).all():
        register.add_draws(
            COST_PER_T,
            "Program cost for each tonne kept out of landfill in the year",
            cost / kept,
            f"{pool.currency} per t",
            "Sum of the costs over the sum of the tonnes.",
            [Input("figure", "program_cost"), Input("figure", "kept_out_of_landfill_t")],
        )


def _add_rate(register: FigureRegister, pooled: Pooled, names: tuple[str, ...]) -> None:
    name = pooled.name
    label, unit = RATES[name].label, RATES[name].unit
    add = register.add_draws
    add(f"{name}_mean", f"{label}: mean of the councils", pooled.mean, unit, MIDDLE, [])
    add(f"{name}_new", f"{label}: a council that joins", pooled.new_council, unit, NEW, [])
    for column, place in enumerate(pooled.places):
        council = names[place]
        own = Input("figure", f"{name}_own[{council}]")
        add(f"{name}_own[{council}]", f"{label}, own survey", pooled.own[:, column], unit,
            OF_COUNCIL, [])  # fmt: skip
        add(f"{name}[{council}]", label, pooled.shrunk[:, column], unit, SHRUNK, [own])
        for kind, value, said in (
            ("own_weight", pooled.own_weight[column], OWN_WEIGHT),
            ("chance_above", pooled.chance_above[column], ABOVE),
        ):
            register.add_exact(
                f"{name}_{kind}[{council}]", f"{label}: {said}", float(value), "share", said, [own]
            )


def _add(
    register: FigureRegister,
    figure_id: str,
    label: str,
    draws: NDArray[np.float64],
    unit: str,
    method: str,
    inputs: list[Input],
) -> None:
    if np.ptp(draws) == 0.0:
        register.add_exact(figure_id, label, float(draws[0]), unit, method, inputs)
    else:
        register.add_draws(figure_id, label, draws, unit, method, inputs)


def _width(draws: NDArray[np.float64]) -> float:
    low, high = np.percentile(draws[1:], ((PER_CENT - 95.0) / 2, (PER_CENT + 95.0) / 2))
    return float(high - low)
