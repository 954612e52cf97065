"""Live sheet of money: cost and avoided disposal of the year, and what the lives are worth."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from planner.cells import Formula, Number
from planner.messages import paper
from planner.program.giveaway import label_start, year_label
from planner.report.wording import Wording
from planner.report.workbook.assumptions import NAME as ASSUMPTIONS
from planner.report.workbook.formats import number_format
from planner.report.workbook.model_months import (
    ANYWAY_SHARE,
    LANDFILLED_SHARE,
    THROWN_SHARE,
    USUAL_FEED,
    USUAL_SHARE,
    fed_t,
    residual_t,
)
from planner.report.workbook.model_months import NAME as MONTHS

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from planner.cells import Cell
    from planner.figures import Figure, FigureRegister
    from planner.program import Program
    from planner.report.workbook.book import Book
    from planner.report.workbook.model_months import ModelMonths
    from planner.report.workbook.page import Page

NAME = "sheet.model.money"
WIDTHS = (46, *[13] * 11)
DIFFERENCE = "0.0E+00"
TONNES = "#,##0.000"
RATIO = "0.000"
LEVY, GATE_FEE, INFLATION = "landfill_levy_per_t", "gate_fee_per_t", "inflation_share"
PRICE_RISE, SUPPORT = "price_rise_share", "support_cost_per_bin_year"
CENTS, HALF_CENT, ROUNDING = 2, 0.005, 1e-9
COMPARED = ("", "model.this_sheet", "model.as_reported", "book.difference")
PRESENT_VALUES = (
    "present_value_of_benefits",
    "present_value_of_costs",
    "net_present_value",
    "benefit_cost_ratio",
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
    """Levy and gate fee of each year as formulas over their cells, by the engine's price path.

    Parameters
    ----------
    program
        Years whose prices are known.
    reporting_year
        The year reported.
    assumed
        Values of the assumptions by name.
    """

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


@dataclass(frozen=True)
class _Life:
    """One year of the bins' lives: months measured, tonnes to come, and what is spent."""

    label: str
    place: int
    months: tuple[str, ...]
    fed_to_come_t: float
    residual_to_come_t: float
    ledger: float
    bin_years: float
    supported_years: int


def add_model_money(
    book: Book,
    register: FigureRegister,
    program: Program,
    assumed: Mapping[str, float],
    months: ModelMonths,
    net_cell: str,
) -> None:
    """Write the sheet.

    Parameters
    ----------
    book
        Takes the sheet.
    register, program
        Figures of money; the program file has the prices that are known.
    assumed
        Values of the assumptions by name.
    months
        Where the tonnes kept out of landfill stand.
    net_cell
        Address of the net emissions over 100 years.
    """
    page = book.add(NAME, WIDTHS)
    page.title(paper().say("model.money.title", year=register.reporting_year))
    writer = _Writer(page, register, program, assumed, months)
    cost = writer.add_ledger()
    writer.add_year(cost, months.kept_out_sums[0], net_cell)
    writer.add_lives()
    page.finish(book.footer, landscape=True)


class _Writer:
    """Fills the sheet from top to bottom."""

    def __init__(
        self,
        page: Page,
        register: FigureRegister,
        program: Program,
        assumed: Mapping[str, float],
        months: ModelMonths,
    ) -> None:
        self.page, self.register, self.program = page, register, program
        self.assumed, self.months = assumed, months
        self.prices = Prices(program, register.reporting_year, assumed)
        self.wording = Wording.of(program)
        self.money = number_format(self.wording.currency, CENTS, self.wording)

    def add_ledger(self) -> str:
        """Write the ledger by category and give the address of its sum."""
        page, parts = self.page, self.register.parts("program_cost")
        page.section("model.money.ledger")
        first = page.row + 1
        rows: list[list[Cell]] = [
            [
                paper().say(f"category.{category}"),
                Number(round(figure.value or 0.0, CENTS), self.money),
            ]
            for category, figure in parts.items()
        ]
        last = first + len(rows) - 1
        value = self._value("program_cost")
        total = f"ROUND(SUM(B{first}:B{last}),2)" if rows else "0"
        page.table(
            ("model.money.category", "model.sum"),
            rows,
            [paper().say("model.money.cost"), *self._beside(total, value, last + 1)],
        )
        return f"$B${last + 1}"

    def add_year(self, cost: str, kept_out: str, net: str) -> None:
        """Write what is not paid for landfill, and the cost of a tonne."""
        page = self.page
        page.section("model.money.year")
        page.note(paper().say("model.money.base", year=self.register.reporting_year))
        lines = (
            ("levy_saved", f"{kept_out}*{LEVY}", "avoided_levy"),
            ("fee_saved", f"{kept_out}*{GATE_FEE}", "avoided_gate_fee"),
            (
                "less_saved",
                f"{cost}-{kept_out}*({LEVY}+{GATE_FEE})",
                "net_program_cost",
            ),
            ("per_t", f"{cost}/{kept_out}", "cost_per_t_kept_out"),
            ("per_t_co2e", f"{cost}/{net}", "cost_per_t_co2e"),
        )
        first = page.row + 1
        # a line without a figure stays, so that the lines below keep their places
        page.table(
            COMPARED,
            [
                [
                    paper().say(f"model.money.{name}"),
                    *self._beside(f"ROUND({formula},2)", self._value(figure_id), first + n),
                ]
                if self._is_given(figure_id)
                else [
                    paper().say(f"model.money.{name}"),
                    paper().say("number.not_given"),
                    None,
                    None,
                ]
                for n, (name, formula, figure_id) in enumerate(lines)
            ],
        )

    def add_lives(self) -> None:
        """Write the years of the bins' lives and their present values."""
        page, register = self.page, self.register
        page.section("model.money.lives")
        tonnes = register.parts("kept_out_of_landfill_t_by_year")
        if not tonnes or any(figure.value is None for figure in tonnes.values()):
            page.note("model.money.left_out")
            return
        names = {"months": paper().say(MONTHS), "assumptions": paper().say(ASSUMPTIONS)}
        page.note(paper().say("model.money.lives_note", **names))
        first = page.row + 1
        lives = self._lives(tonnes)
        rows = [self._life_year(life, first + life.place) for life in lives]
        headings = (
            "model.money.of_year",
            "model.years_on",
            "model.money.fed_to_come",
            "model.money.residual_to_come",
            "model.kept_out",
            "model.money.levy_of_t",
            "model.money.fee_of_t",
            "model.money.saved",
            "model.money.booked",
            "model.money.bin_years",
            "model.money.support_before",
            "model.money.costs",
        )
        page.table(headings, rows, stays_in_sight=False)
        self._add_present_values(first, first + len(rows) - 1)

    def _lives(self, tonnes: Mapping[str, Figure]) -> list[_Life]:
        """Take each year apart into months measured, tonnes to come, ledger and support."""
        register, support = self.register, self.assumed.get(SUPPORT, 0.0)
        lives: list[_Life] = []
        supported = 0
        for place, label in enumerate(tonnes):
            months = self.months.of_year(label, self.program)
            fed, residual = (
                self._to_come(f"{name}[{label}]", months, of_month)
                for name, of_month in (
                    ("fed_t_by_year", fed_t),
                    ("from_residual_bin_t_by_year", residual_t),
                )
            )
            ledger = register.parts("program_cost_by_year").get(label)
            booked = ledger.value or 0.0 if ledger is not None else 0.0
            rest = self._value(f"cost_by_year[{label}]") - booked
            is_to_come = _start(label) >= _start(register.reporting_year)
            is_supported = support > 0.0 and is_to_come and rest > HALF_CENT
            price = support * (1.0 + self.assumed[INFLATION]) ** supported
            lives.append(
                _Life(
                    label,
                    place,
                    months,
                    fed,
                    residual,
                    booked if is_supported else booked + rest,
                    rest / price if is_supported else 0.0,
                    supported,
                )
            )
            supported += is_supported
        return lives

    def _to_come(
        self,
        figure_id: str,
        months: Sequence[str],
        of_month: Callable[[FigureRegister, str], float],
    ) -> float:
        """Take the months measured off a year; what is left comes after them."""
        left = self._value(figure_id) - sum(of_month(self.register, month) for month in months)
        return left if left > ROUNDING else 0.0

    def _life_year(self, life: _Life, row: int) -> list[Cell]:
        tonnes, avoided = (
            self._value(f"{name}[{life.label}]")
            for name in ("kept_out_of_landfill_t_by_year", "avoided_disposal_cost_by_year")
        )
        feed, share = self.assumed[USUAL_FEED], self.assumed[USUAL_SHARE]
        measured = [self.months.shown[month] for month in life.months]
        to_come = (
            f"(D{row}*{USUAL_SHARE}*(1-{ANYWAY_SHARE})-C{row}*{THROWN_SHARE})"
            f"*{USUAL_FEED}*{LANDFILLED_SHARE}"
        )
        parts = [*measured, *([to_come] if life.fed_to_come_t else [])]
        levy, fee = (self.prices.formula(name, life.label) for name in (LEVY, GATE_FEE))
        worth = (self.prices.value(name, life.label) for name in (LEVY, GATE_FEE))
        levy_cell, fee_cell = (
            Formula(text, value, self.money) for text, value in zip((levy, fee), worth, strict=True)
        )
        cost = f"ROUND({_cost(row, has_support=self.has_support)},2)"
        return [
            life.label,
            Number(float(life.place)),
            Number(life.fed_to_come_t / feed, TONNES),
            Number(life.residual_to_come_t / (feed * share), TONNES),
            Formula("+".join(parts) or "0", tonnes, TONNES),
            levy_cell,
            fee_cell,
            Formula(f"ROUND(E{row}*(F{row}+G{row}),2)", round(avoided, CENTS), self.money),
            Number(round(life.ledger, CENTS), self.money),
            Number(life.bin_years, "#,##0.0"),
            Number(float(life.supported_years)),
            Formula(cost, round(self._value(f"cost_by_year[{life.label}]"), CENTS), self.money),
        ]

    @property
    def has_support(self) -> bool:
        """Whether the program file names what a bin in use costs each year to come."""
        return self.assumed.get(SUPPORT, 0.0) > 0.0

    def _add_present_values(self, first: int, last: int) -> None:
        column = {name: f"${name}${first}:${name}${last}" for name in "BEFGIJK"}
        for rate in self.register.parts("net_present_value"):
            places = 0 if round(float(rate), 4) == round(float(rate), 2) else CENTS
            percent = self.wording.share(float(rate), places)
            self.page.section(paper().say("model.money.at_rate", rate=percent))
            years = column["B"]
            divisor = f"(1+{INFLATION})^{years}/(1+{discount_cell(rate)})^{years}"
            saved = f"{column['E']}*({column['F']}+{column['G']})"
            spent = column["I"]
            if self.has_support:
                support = f"{SUPPORT}*(1+{INFLATION})^{column['K']}"
                spent = f"({spent}+{column['J']}*{support})"
            benefits, costs = (f"SUMPRODUCT({amount}/{divisor})" for amount in (saved, spent))
            row = self.page.row + 1
            formulas = (
                f"ROUND({benefits},2)",
                f"ROUND({costs},2)",
                f"ROUND({benefits}-{costs},2)",
                f"{benefits}/{costs}",
            )
            rows: list[list[Cell]] = []
            for name, formula in zip(PRESENT_VALUES, formulas, strict=True):
                figure_id = f"{name}[{rate}]"
                if not self._is_given(figure_id):
                    break
                code = RATIO if self.register[figure_id].unit == "ratio" else self.money
                cells = self._beside(formula, self._value(figure_id), row + len(rows), code)
                rows.append([paper().say(f"model.money.{name}"), *cells])
            self.page.table(COMPARED, rows)

    def _beside(
        self, formula: str, reported: float, row: int, code: str | None = None
    ) -> list[Cell]:
        """Set a formula, the planner's own figure and the difference side by side."""
        shown = reported if code == RATIO else round(reported, CENTS)
        return [
            Formula(formula, shown, code or self.money),
            Number(shown, code or self.money),
            Formula(f"B{row}-C{row}", 0.0, DIFFERENCE),
        ]

    def _is_given(self, figure_id: str) -> bool:
        return figure_id in self.register and self.register[figure_id].value is not None

    def _value(self, figure_id: str) -> float:
        value = self.register[figure_id].value
        return 0.0 if value is None else value


def _cost(row: int, *, has_support: bool) -> str:
    support = f"+J{row}*{SUPPORT}*(1+{INFLATION})^K{row}" if has_support else ""
    return f"I{row}{support}"
