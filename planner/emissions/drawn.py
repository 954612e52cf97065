"""The factors of a program, drawn: one draw of a factor is shared by all that use it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Integers, Numbers
from planner.emissions.choice import choose_emission_factors
from planner.emissions.landfill import Decay, methane_potential_kg
from planner.factors.draws import draw_factors

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from planner.emissions.choice import FactorRows, LandfillRows
    from planner.factors import Factor, FactorTable
    from planner.program import Program


MID_MONTH = 0.5
"""Scraps are kept out all through a month, on average half a month after it began."""


@dataclass(frozen=True)
class Landfill:
    """One landfill's factors, each of shape (1 + draws,)."""

    # as the program file has them
    name: str
    share_of_landfilled_waste: float
    decay: Decay  # decay of scraps deposited through a month, with capture and oxidation
    # methane that a kilogram of scraps can give [kg CH4 per kg]
    methane_potential_kg_per_kg: Numbers

    @property
    def methane_kg_per_kg_landfilled(self) -> Numbers:
        """The same of a kilogram of scraps landfilled anywhere, by the part that comes here."""
        return self.share_of_landfilled_waste * self.methane_potential_kg_per_kg


@dataclass(frozen=True)
class EmissionFactors:
    """Factors of one program, each an array of shape (1 + draws,)."""

    rows: FactorRows  # rows of the factor tables behind them
    drawn: Mapping[str, Numbers]  # shared factors by what they are for
    # for each landfill the factors of its own, by factor_id
    of_landfills: tuple[Mapping[str, Numbers], ...]
    # added to the delay: from the start of a month to its mean deposit
    from_deposit_months: float = MID_MONTH
    # shape (landfills,): what the method multiplies methane by; 1 but for the clean development
    # mechanism's
    model_factor: tuple[float, ...] = ()

    def __getitem__(self, name: str) -> Numbers:
        """Draws of a shared factor, or of the main landfill's."""
        return self.drawn[name] if name in self.drawn else self.of_landfills[0][name]

    @property
    def size(self) -> int:
        """Number of draws, the central one among them."""
        return int(self["methane_gwp100"].size)

    @property
    def landfills(self) -> tuple[Landfill, ...]:
        """Each landfill with its decay and potential."""
        return tuple(self._landfill(place) for place in range(len(self.of_landfills)))

    @property
    def decay(self) -> Decay:
        """Decay in the main landfill."""
        return self.landfills[0].decay

    @property
    def methane_potential_kg_per_kg(self) -> Numbers:
        """Methane that a kilogram can give in the main landfill [kg CH4 per kg]."""
        return self.landfills[0].methane_potential_kg_per_kg

    def picked(self, picks: Mapping[str, Integers]) -> EmissionFactors:
        """Take other draws of some factors, by factor_id; the rest stay as they are."""

        def taken(name: str, factor_id: str, values: Mapping[str, Numbers]) -> Numbers:
            return values[name][picks[factor_id]] if factor_id in picks else values[name]

        shared = {
            name: taken(name, self.rows.shared[name].factor_id, self.drawn) for name in self.drawn
        }
        own = tuple({name: taken(name, name, each) for name in each} for each in self.of_landfills)
        return replace(self, drawn=shared, of_landfills=own)

    def with_values(self, values: Mapping[str, float]) -> EmissionFactors:
        """Put one value in place of all draws of some shared factors."""
        fixed = {name: np.full(self.size, value) for name, value in values.items()}
        return replace(self, drawn={**self.drawn, **fixed})

    def varying(self, factor_id: str) -> EmissionFactors:
        """Hold every factor but one at its central value, as a tornado chart needs.

        Raises
        ------
        ValueError
            `factor_id` is not a factor here.
        """
        known = {row.factor_id for row in self.rows.every}
        if factor_id not in known:
            message = f"factor_id: found {factor_id!r}, expected one of {sorted(known)}"
            raise ValueError(message)
        centre = np.zeros(self.size, dtype=np.int64)
        return self.picked({name: centre for name in known if name != factor_id})

    def _landfill(self, place: int) -> Landfill:
        rows, own = self.rows.landfills[place], self.of_landfills[place]
        steps = rows.site.gas_capture
        schedule = np.array([step.captured_share for step in steps])
        captured = np.clip(self["captured_multiplier"][:, np.newaxis] * schedule, 0.0, 1.0)
        decay = Decay(
            own["food_decay_rate_per_year"],
            self["delay_months"] + self.from_deposit_months,
            own["oxidised_share"],
            tuple(float(step.from_age_years) for step in steps),
            captured,
        )
        potential = methane_potential_kg(
            self.model_factor[place] if self.model_factor else 1.0,
            self["food_degradable_carbon_share"],
            self["food_decomposing_carbon_share"],
            own["methane_correction_factor"],
            self["methane_share_of_gas"],
        )
        return Landfill(rows.name, rows.share_of_landfilled_waste, decay, potential)


def emission_factors(rows: FactorRows, values_of: Callable[[Factor], Numbers]) -> EmissionFactors:
    """Arrange the values of a program's factors.

    Parameters
    ----------
    values_of
        Gives the values of a row, shape (1 + draws,).
    """

    def own(landfill: LandfillRows) -> dict[str, Numbers]:
        return {row.factor_id: values_of(row) for row in landfill.rows}

    return EmissionFactors(
        rows,
        {name: values_of(row) for name, row in rows.shared.items()},
        tuple(own(landfill) for landfill in rows.landfills),
    )


def draw_rows(
    rows: FactorRows, draws_count: int, seed: int, own_seed: int | None = None
) -> EmissionFactors:
    """Draw the factors of rows; arguments as for `draw_emission_factors`."""

    def drawn(row: Factor) -> Numbers:
        return draw_factors([row], draws_count, seed, own_seed)[row.factor_id]

    return emission_factors(rows, drawn)


def draw_emission_factors(
    program: Program,
    table: FactorTable,
    draws_count: int,
    seed: int,
    own_seed: int | None = None,
) -> EmissionFactors:
    """Choose a program's factors and draw them.

    Parameters
    ----------
    draws_count, seed, own_seed
        As for `planner.factors.draws.draw_factors`.

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
    return draw_rows(rows, draws_count, seed, own_seed)
