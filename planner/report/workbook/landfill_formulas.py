"""How a landfill's decay is written in a cell, and what it comes to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from planner.emissions.landfill import Decay
from planner.units import METHANE_PER_CARBON

if TYPE_CHECKING:
    from collections.abc import Mapping


@dataclass(frozen=True)
class Site:
    """One landfill's numbers, as the sheet of assumptions names them.

    Parameters
    ----------
    place
        1 for the first; it ends the names of its cells.
    name
        Its name in the program file.
    step_ages_years
        Ages from which gas is captured at another share.
    count
        Landfills in all; the first takes what the others leave.
    """

    place: int
    name: str
    step_ages_years: tuple[int, ...]
    count: int = 1

    @property
    def share_cell(self) -> str:
        """Name of its share of the landfilled waste."""
        return self.cell("share_of_landfilled_waste")

    @property
    def scale(self) -> str:
        """Methane that a tonne of landfilled scraps can give here, as a formula [t per t]."""
        share = f"{self.share_cell}*" if self.count > 1 else ""
        return f"{share}{potential_formula(self)}"

    def scale_value(self, assumed: Mapping[str, float]) -> float:
        """Work out what the formula of the scale comes to."""
        share = assumed[self.share_cell] if self.count > 1 else 1.0
        return share * potential_value(self, assumed)

    def cell(self, name: str) -> str:
        """Name of an assumption of this landfill."""
        return f"{name}_{self.place}"

    def captured(self, age_years: int) -> str:
        """Name of the captured share from an age on."""
        return f"captured_{self.place}_from_{age_years}_years"


@dataclass(frozen=True)
class Emitted:
    """How a landfill's emitted share is written in a cell, and what it comes to.

    Parameters
    ----------
    site
        Whose it is.
    decay
        The same decay with central values.
    rises, decayed
        Ranges of the table of steps: how much the captured share rises, and the share
        decayed by then.
    """

    site: Site
    decay: Decay
    rises: str
    decayed: str

    def formula(self, age: str) -> str:
        """Share of the methane potential in the air at an age in months, as a formula."""
        rate, kept = self.site.cell("food_decay_rate_per_year"), self.site.cell("oxidised_share")
        gone = f"(1-EXP(-{rate}/12*MAX(0,{age}-delay_months-from_deposit_months)))"
        caught = f"SUMPRODUCT({self.rises},({gone}>{self.decayed})*({gone}-{self.decayed}))"
        return f"(1-{kept})*({gone}-{caught})"

    def value(self, age_months: float) -> float:
        """Work out what the formula comes to."""
        return float(self.decay.emitted_share(age_months))


def potential_formula(site: Site) -> str:
    """Methane that a tonne of scraps can give, as a formula [t CH4 per t]."""
    parts = (
        "food_degradable_carbon_share",
        "food_decomposing_carbon_share",
        site.cell("methane_correction_factor"),
        "methane_share_of_gas",
    )
    return f"{'*'.join(parts)}*16/12"


def potential_value(site: Site, assumed: Mapping[str, float]) -> float:
    """Work out what the formula of the potential comes to."""
    return float(
        assumed["food_degradable_carbon_share"]
        * assumed["food_decomposing_carbon_share"]
        * assumed[site.cell("methane_correction_factor")]
        * assumed["methane_share_of_gas"]
        * METHANE_PER_CARBON
    )


def site_decay(site: Site, assumed: Mapping[str, float]) -> Decay:
    """Decay in a landfill with the values of the assumptions."""
    captured = [
        min(1.0, assumed["captured_multiplier"] * assumed[site.captured(age)])
        for age in site.step_ages_years
    ]
    return Decay(
        assumed[site.cell("food_decay_rate_per_year")],
        assumed["delay_months"] + assumed["from_deposit_months"],
        assumed[site.cell("oxidised_share")],
        tuple(float(age) for age in site.step_ages_years),
        tuple(captured),
    )
