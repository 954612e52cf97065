"""Figures of single bins: what giving one emits, and the scraps that repay it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.emissions import (
    bin_gases_kg_co2e_per_t,
    bin_making_kg_co2e,
    leakage_kg_co2e_per_t,
    methane_avoided_kg_co2e_per_t,
    payback,
)
from planner.figures import Figure
from planner.report.account_figures import LINES, factor_inputs, method_inputs
from planner.report.inputs import of_figures, of_key, of_query

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.emissions import Payback
    from planner.figures import FigureRegister, Input
    from planner.program import BinModel
    from planner.report.year import Year

MAKING_LINES = (
    "bin_plastic",
    "bin_disposal",
    "bedding",
    "worm_supply",
    "freight",
    "household_trips",
)
MAKING = (
    "Plastic and its end, with the bedding and worms given with a bin on average, freight and "
    "the household's trip; whole, not spread over its life."
)
REPAID = (
    "What giving the bin emits over what a kilogram fed avoids: landfill methane of the share "
    "that was landfilled before, less the bins' gases and leakage."
)
NEVER = (
    "Never: at central values a kilogram fed emits as much as it avoids, or more. A lower share "
    "landfilled before, early gas capture or the bins' own gases can do that."
)
NOTHING_FED = "Not given: no scraps were fed in the year."


def add_payback(register: FigureRegister, year: Year) -> None:
    """Add for each bin model what giving one emits and when scraps have repaid it."""
    net = _net_kg_co2e_per_t_fed(year)
    given = max(1.0, float(year.activity.supplies.bins_given.sum()))
    bedding_kg = float(year.activity.supplies.bedding_kg.sum()) / given
    worms_kg = float(year.activity.supplies.worms_kg.sum()) / given
    for model in year.program.bin_models:
        making = bin_making_kg_co2e(
            year.emission_factors,
            model.plastic_kg,
            model.plastic_recycled_share,
            bedding_kg,
            worms_kg,
        )
        register.add_draws(
            f"bin_making_kg_co2e[{model.model_id}]",
            f"{model.model_name}: what giving one emits",
            making,
            "kg CO2-e",
            MAKING,
            _making_inputs(year, model),
        )
        _add_model(register, model, None if net is None else payback(making, net), year)


def _net_kg_co2e_per_t_fed(year: Year) -> NDArray[np.float64] | None:
    """Emissions avoided by a tonne fed, before the bin's making; None where none was fed."""
    months, factors = year.activity.year_months, year.emission_factors
    fed = year.activity.fed_kg[:, months].sum(axis=1)
    if (fed <= 0.0).any():
        return None
    share = year.activity.kept_out_kg[:, months].sum(axis=1) / fed
    methane = methane_avoided_kg_co2e_per_t(factors)
    landfilled = year.activity.landfilled_share_of_residual_waste
    anyway, binned = leakage_kg_co2e_per_t(factors, methane, landfilled)
    return np.asarray(share * (methane - anyway) - binned - bin_gases_kg_co2e_per_t(factors))


def _making_inputs(year: Year, model: BinModel) -> tuple[Input, ...]:
    factor_ids = tuple(name for line in MAKING_LINES for name in LINES[line].factor_ids)
    return (
        of_query("supplies_by_month", year.counts.supplies),
        of_key(f"bin_models.{model.model_id}.plastic_kg", model.plastic_kg),
        of_key(f"bin_models.{model.model_id}.plastic_recycled_share", model.plastic_recycled_share),
        *factor_inputs(year, factor_ids),
        *method_inputs(year),
    )


def _add_model(
    register: FigureRegister, model: BinModel, found: Payback | None, year: Year
) -> None:
    inputs = (
        *of_figures(
            f"bin_making_kg_co2e[{model.model_id}]",
            "landfill_share",
            "emissions_kg_co2e_per_t_kept_out[landfill_methane]",
            "emissions_kg_co2e_per_t_fed[bin_gases]",
        ),
        *method_inputs(year),
    )
    name, label = f"bin_payback_kg[{model.model_id}]", f"{model.model_name}: scraps that repay it"
    never_id = f"bin_payback_never_share[{model.model_id}]"
    never_label = f"{model.model_name}: share of draws in which scraps never repay it"
    if found is None:
        register.add(Figure(name, label, None, None, None, "kg", NOTHING_FED, inputs))
        register.add(Figure(never_id, never_label, None, None, None, "share", NOTHING_FED, inputs))
        return
    value, low, high = found.fed_kg
    if np.isinf(value):
        register.add(Figure(name, label, None, None, None, "kg", NEVER, inputs))
    elif np.isinf(high):
        lower = f" From {low:.3g} kg upwards" if np.isfinite(low) else " Open on both sides"
        method = f"{REPAID}{lower}: in {found.never_share:.1%} of draws it is never repaid."
        register.add(Figure(name, label, value, None, None, "kg", method, inputs))
    else:
        register.add(Figure(name, label, value, low, high, "kg", REPAID, inputs))
    register.add_exact(never_id, never_label, found.never_share, "share", REPAID, inputs)
