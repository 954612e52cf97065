"""Named cells on which the live sheets of the model rest, and formulas written over them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from planner.cells import Cell, Formula, Number
from planner.emissions.landfill import Decay
from planner.messages import paper, said
from planner.program import Program
from planner.program.giveaway import label_start, year_label
from planner.report.wording import worded
from planner.report.workbook.page import Book, Page
from planner.units import METHANE_PER_CARBON

NAME = "plan.sheet.assumptions"
HEADINGS = (
    "model.assumed.assumption",
    "book.value",
    "book.unit",
    "model.assumed.origin",
    "model.assumed.cell",
)
LIVE = {name: f"sheet.model.{name}" for name in ("months", "landfill", "account", "money")}
LANDFILLED_SHARE = "landfilled_share"
ANYWAY_SHARE, THROWN_SHARE = "composted_anyway_share", "thrown_away_share"
USUAL_FEED, USUAL_SHARE = "feed_kg_per_bin_week", "residual_bin_share"
"""Names of the cells to which each month's feed and share are set in proportion."""

LEVY, GATE_FEE, INFLATION = "landfill_levy_per_t", "gate_fee_per_t", "inflation_share"
PRICE_RISE, SUPPORT = "price_rise_share", "support_cost_per_bin_year"


@dataclass(frozen=True)
class Assumption:
    """A number that the reader may change to see what follows."""

    name: str  # name of its cell: letters, digits and low lines
    label: str  # what it is, in words or by their key
    # its central value
    value: float
    unit: str
    source: str  # publication and place, or the key of the program file; likewise
    number_format: str = "General"  # how it is displayed
    formula: str = ""  # how it follows from others, where it does

    @property
    def cell(self) -> Cell:
        """What stands in its cell."""
        if self.formula:
            return Formula(self.formula, self.value, self.number_format)
        return Number(self.value, self.number_format)


def add_assumptions(
    book: Book, groups: Iterable[tuple[str, Iterable[Assumption]]]
) -> dict[str, float]:
    """Write the assumptions by subject, name their cells, and give their values by name."""
    values: dict[str, float] = {}
    page = book.page(NAME, (46, 14, 24, 60, 34), landscape=True)
    page.title("model.assumed.title")
    page.note(said("model.assumed.note", **{name: said(key) for name, key in LIVE.items()}))
    for subject, assumptions in groups:
        page.section(subject)
        values |= write_assumptions(book, page, list(assumptions))
    return values


def write_assumptions(
    book: Book, page: Page, rows: Sequence[Assumption], *, stays_in_sight: bool = False
) -> dict[str, float]:
    """Write one table of assumptions and name the cells of their values."""
    page.table(
        HEADINGS,
        [
            [worded(a.label), a.cell, paper().unit_words(a.unit), worded(a.source), a.name]
            for a in rows
        ],
        stays_in_sight=stays_in_sight,
    )
    for row, assumption in enumerate(rows, start=page.row - len(rows)):
        book.name_cell(assumption.name, page.sheet.title, row)
    return {assumption.name: assumption.value for assumption in rows}


@dataclass(frozen=True)
class Site:
    """One landfill's numbers, as the sheet of assumptions names them."""

    place: int  # 1 for the first; it ends the names of its cells
    name: str  # its name in the program file
    step_ages_years: tuple[int, ...]  # ages from which gas is captured at another share
    count: int = 1  # landfills in all; the first takes what the others leave

    @property
    def share_cell(self) -> str:
        """Name of its share of the landfilled waste."""
        return self.cell("share_of_landfilled_waste")

    @property
    def scale(self) -> str:
        """Methane that a tonne of landfilled scraps can give here, as a formula [t per t]."""
        share = f"{self.share_cell}*" if self.count > 1 else ""
        return f"{share}{'*'.join(self._potential)}*16/12"

    def scale_value(self, assumed: Mapping[str, float]) -> float:
        """Work out what the formula of the scale comes to."""
        share = assumed[self.share_cell] if self.count > 1 else 1.0
        potential = math.prod(assumed[cell] for cell in self._potential) * METHANE_PER_CARBON
        return share * potential

    @property
    def _potential(self) -> tuple[str, ...]:
        return (
            "food_degradable_carbon_share",
            "food_decomposing_carbon_share",
            self.cell("methane_correction_factor"),
            "methane_share_of_gas",
        )

    def cell(self, name: str) -> str:
        """Name of an assumption of this landfill."""
        return f"{name}_{self.place}"

    def captured(self, age_years: int) -> str:
        """Name of the captured share from an age on."""
        return f"captured_{self.place}_from_{age_years}_years"


@dataclass(frozen=True)
class Emitted:
    """How a landfill's emitted share is written in a cell, and what it comes to."""

    site: Site  # whose it is
    decay: Decay  # the same decay with central values
    # ranges of the table of steps: how much the captured share rises, and the share decayed by then
    rises: str
    decayed: str

    def formula(self, age: str) -> str:
        """Share of the methane potential in the air at an age in months, as a formula."""
        rate, kept = self.site.cell("food_decay_rate_per_year"), self.site.cell("oxidised_share")
        gone = f"(1-EXP(-{rate}/12*MAX(0,{age}-delay_months-from_deposit_months)))"
        caught = f"SUMPRODUCT({self.rises},({gone}>{self.decayed})*({gone}-{self.decayed}))"
        return f"(1-{kept})*({gone}-{caught})"


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


def discount_cell(rate: str) -> str:
    """Name of the cell of a discount rate.

    Examples
    --------
    >>> discount_cell("0.035")
    'discount_rate_0_035'
    """
    return f"discount_rate_{rate.replace('.', '_').replace('-', 'minus_')}"


def price_cell(name: str, label: str, reporting_year: str) -> str:
    """Name of the cell of a year's levy or gate fee; that of the reporting year is the plain one.

    Examples
    --------
    >>> price_cell("landfill_levy_per_t", "2024-25", "2025-26")
    'landfill_levy_per_t_2024_25'
    """
    return name if label == reporting_year else f"{name}_{label.replace('-', '_')}"


class Prices:
    """Levy and gate fee of each year as formulas over their cells, by the engine's price path."""

    def __init__(self, program: Program, reporting_year: str, assumed: Mapping[str, float]) -> None:
        self.assumed, self.reporting_year = assumed, reporting_year
        first_month = program.council.reporting_year_first_month
        known = (year_label(start, first_month) for start in program.prices())
        self.known = sorted(known, key=_start)

    def formula(self, name: str, label: str) -> str:
        """Price of a year as a formula."""
        cell, beyond = self._of(name, label)
        rise = f"*((1+{PRICE_RISE})*(1+{INFLATION}))^{beyond}" if beyond else ""
        return f"{cell}{rise}"

    def value(self, name: str, label: str) -> float:
        """Work out what the formula comes to."""
        cell, beyond = self._of(name, label)
        rise = (1.0 + self.assumed[PRICE_RISE]) * (1.0 + self.assumed[INFLATION])
        return float(self.assumed[cell] * rise**beyond)

    def _of(self, name: str, label: str) -> tuple[str, int]:
        """Cell that a year's price begins from, and the years beyond the last that is known."""
        earlier = [year for year in self.known if _start(year) <= _start(label)]
        base = earlier[-1] if earlier else self.known[0]
        beyond = max(0, _start(label) - _start(self.known[-1]))
        return price_cell(name, base, self.reporting_year), beyond


def _start(label: str) -> int:
    return label_start(label) or 0
