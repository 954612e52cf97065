"""The factors that a program's landfill and method call for, and their draws."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from planner.emissions.landfill import Decay, methane_potential_kg
from planner.factors import draw_factors

if TYPE_CHECKING:
    from planner.factors import Factor, FactorTable
    from planner.program import Program

Floats = NDArray[np.float64]

BASE_EDITION = "ipcc_2006"
"""The 2019 Refinement changes some rows only; what it leaves alone holds from 2006."""

MID_MONTH = 0.5
"""Scraps are kept out all through a month, on average half a month after it began."""


@dataclass(frozen=True)
class EmissionFactors:
    """Factors of one program, each an array of shape (1 + draws,), named by its factor_id.

    `rows` are the rows of the factor tables behind them, for the report.
    """

    food_degradable_carbon_share: Floats
    food_decomposing_carbon_share: Floats
    methane_correction_factor: Floats
    methane_share_of_gas: Floats
    food_decay_rate_per_year: Floats
    delay_months: Floats
    oxidised_share: Floats
    captured_multiplier: Floats
    compost_methane_g_per_kg: Floats
    compost_nitrous_oxide_g_per_kg: Floats
    methane_gwp100: Floats
    nitrous_oxide_gwp100: Floats
    capture_from_age_years: tuple[float, ...]
    scheduled_captured_share: tuple[float, ...]
    rows: tuple[Factor, ...]

    @property
    def captured_share(self) -> Floats:
        """Share of methane captured by step of the schedule, shape (1 + draws, steps)."""
        schedule = np.asarray(self.scheduled_captured_share)
        scaled = self.captured_multiplier[:, np.newaxis] * schedule
        return np.asarray(np.clip(scaled, 0.0, 1.0))

    @property
    def decay(self) -> Decay:
        """Decay of scraps deposited through a month."""
        return Decay(
            self.food_decay_rate_per_year,
            self.delay_months + MID_MONTH,
            self.oxidised_share,
            self.capture_from_age_years,
            self.captured_share,
        )

    @property
    def methane_potential_kg_per_kg(self) -> Floats:
        """Methane that a kilogram of scraps can give, shape (1 + draws,) [kg CH4 per kg]."""
        return methane_potential_kg(
            1.0,
            self.food_degradable_carbon_share,
            self.food_decomposing_carbon_share,
            self.methane_correction_factor,
            self.methane_share_of_gas,
        )

    def varying(self, factor_id: str) -> EmissionFactors:
        """Hold every factor but one at its central value, as a tornado chart needs.

        Raises
        ------
        ValueError
            `factor_id` is not a drawn factor here.
        """
        if factor_id not in self.drawn_ids:
            message = f"factor_id: found {factor_id!r}, expected one of {self.drawn_ids}"
            raise ValueError(message)
        held = {name: getattr(self, name) for name in self.drawn_ids if name != factor_id}
        return replace(
            self, **{name: np.full_like(values, values[0]) for name, values in held.items()}
        )

    @property
    def drawn_ids(self) -> tuple[str, ...]:
        """Ids of the factors, in the order of `rows`."""
        return tuple(row.factor_id for row in self.rows)


def choose_emission_factors(program: Program, table: FactorTable) -> tuple[Factor, ...]:
    """Name the rows that the program's landfill, edition and warming potentials call for.

    Raises
    ------
    FactorError
        The tables have no row for one of them.
    """
    landfill, method = program.landfill, program.method

    def by_edition(factor_id: str, applies_to: str = "") -> Factor:
        editions = {row.edition for row in table if row.factor_id == factor_id}
        edition = method.edition if method.edition in editions else BASE_EDITION
        return table.find(factor_id, applies_to, edition)

    return (
        by_edition("food_degradable_carbon_share"),
        by_edition("food_decomposing_carbon_share"),
        table.find("methane_correction_factor", landfill.management, BASE_EDITION),
        by_edition("methane_share_of_gas"),
        by_edition("food_decay_rate_per_year", landfill.climate),
        by_edition("delay_months"),
        by_edition("oxidised_share", landfill.cover),
        by_edition("captured_multiplier", "unmetered"),
        by_edition("compost_methane_g_per_kg", "wet"),
        by_edition("compost_nitrous_oxide_g_per_kg", "wet"),
        table.find("methane_gwp100", edition=method.gwp_set),
        table.find("nitrous_oxide_gwp100", edition=method.gwp_set),
    )


def draw_emission_factors(
    program: Program, table: FactorTable, draws_count: int, seed: int
) -> EmissionFactors:
    """Choose a program's factors and draw them.

    Parameters
    ----------
    program
        Its landfill, edition and set of warming potentials decide.
    table
        The factor tables.
    draws_count, seed
        As for `planner.factors.draw_factors`.

    Returns
    -------
    EmissionFactors
        Arrays of shape (1 + draws_count,); index 0 the central values.

    Raises
    ------
    FactorError
        The tables have no row for a choice of the program.
    """
    rows = choose_emission_factors(program, table)
    steps = program.landfill.gas_capture
    return EmissionFactors(
        **draw_factors(rows, draws_count, seed),
        capture_from_age_years=tuple(float(step.from_age_years) for step in steps),
        scheduled_captured_share=tuple(step.captured_share for step in steps),
        rows=rows,
    )
