"""Live sheet of money: cost and avoided disposal of the year, and what the lives are worth."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import takewhile

from planner.cells import Cell, Formula, Number
from planner.figures import Figure, FigureRegister
from planner.messages import said
from planner.program import Program
from planner.program.giveaway import label_start
from planner.report.wording import Wording
from planner.report.workbook.formats import compared, headed, number_format
from planner.report.workbook.model_months import NAME as MONTHS
from planner.report.workbook.model_months import ModelMonths, fed_t, residual_t
from planner.report.workbook.named_cells import (
    ANYWAY_SHARE,
    GATE_FEE,
    INFLATION,
    LANDFILLED_SHARE,
    LEVY,
    SUPPORT,
    THROWN_SHARE,
    USUAL_FEED,
    USUAL_SHARE,
    Prices,
    discount_cell,
)
from planner.report.workbook.named_cells import NAME as ASSUMPTIONS
from planner.report.workbook.page import Book, Page
from planner.rounding import CENTS

NAME = "sheet.model.money"
WIDTHS = (46, *[13] * 11)
TONNES = "#,##0.000"
RATIO = "0.000"
HALF_CENT, ROUNDING = 0.005, 1e-9
COMPARED = ("", "model.this_sheet", "model.as_reported", "book.difference")
LIVES = (
    "money.of_year years_on money.fed_to_come money.residual_to_come kept_out money.levy_of_t "
    "money.fee_of_t money.saved money.booked money.bin_years money.support_before money.costs"
)
PRESENT_VALUES = (
    "present_value_of_benefits",
    "present_value_of_costs",
    "net_present_value",
    "benefit_cost_ratio",
)


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
    """Write the sheet; `net_cell` is the address of the net emissions over 100 years."""
    page = book.page(NAME, WIDTHS, landscape=True)
    page.title(said("model.money.title", year=register.reporting_year))
    writer = _Writer(page, register, program, assumed, months, book.wording)
    cost = writer.add_ledger()
    writer.add_year(cost, months.kept_out_sums[0], net_cell)
    writer.add_lives()


@dataclass(frozen=True)
class _Writer:
    """Fills the sheet from top to bottom."""

    page: Page
    register: FigureRegister
    program: Program
    assumed: Mapping[str, float]
    months: ModelMonths
    wording: Wording

    @property
    def money(self) -> str:
        """Format code of an amount."""
        return number_format(self.wording.currency, CENTS, self.wording)

    @property
    def has_support(self) -> bool:
        """Whether the program file names what a bin in use costs each year to come."""
        return self.assumed.get(SUPPORT, 0.0) > 0.0

    def add_ledger(self) -> str:
        """Write the ledger by category and give the address of its sum."""
        page, parts = self.page, self.register.parts("program_cost")
        page.section("model.money.ledger")
        first = page.row + 1
        rows: list[list[Cell]] = [
            [said(f"category.{name}"), Number(round(one.value or 0.0, CENTS), self.money)]
            for name, one in parts.items()
        ]
        last = first + len(rows) - 1
        spent = self.register["program_cost"]
        total = f"ROUND(SUM(B{first}:B{last}),2)" if rows else "0"
        page.table(
            ("model.money.category", "model.sum"),
            rows,
            [said("model.money.cost"), *self._beside(total, spent, last + 1)],
        )
        return f"$B${last + 1}"

    def add_year(self, cost: str, kept_out: str, net: str) -> None:
        """Write what is not paid for landfill, and the cost of a tonne."""
        page = self.page
        page.section("model.money.year")
        page.note(said("model.money.base", year=self.register.reporting_year))
        saved = f"{kept_out}*({LEVY}+{GATE_FEE})"
        lines = (
            ("levy_saved", f"ROUND({kept_out}*{LEVY},2)", "avoided_levy"),
            ("fee_saved", f"ROUND({kept_out}*{GATE_FEE},2)", "avoided_gate_fee"),
            ("less_saved", f"ROUND({cost}-{saved},2)", "net_program_cost"),
            ("per_t", f"ROUND({cost}/{kept_out},2)", "cost_per_t_kept_out"),
            ("per_t_co2e", f"ROUND({cost}/{net},2)", "cost_per_t_co2e"),
        )
        self._compare(lines)

    def add_lives(self) -> None:
        """Write the years of the bins' lives and their present values."""
        page, register = self.page, self.register
        page.section("model.money.lives")
        tonnes = register.parts("kept_out_of_landfill_t_by_year")
        if not tonnes or any(figure.value is None for figure in tonnes.values()):
            page.note("model.money.left_out")
            return
        names = {"months": said(MONTHS), "assumptions": said(ASSUMPTIONS)}
        page.note(said("model.money.lives_note", **names))
        first = page.row + 1
        lives = self._lives(tonnes)
        rows = [self._life_year(life, first + life.place) for life in lives]
        page.table(headed("model.", LIVES), rows)
        self._add_present_values(first, first + len(rows) - 1)

    def _lives(self, tonnes: Mapping[str, Figure]) -> list[_Life]:
        """Take each year apart into months measured, tonnes to come, ledger and support."""
        register, support = self.register, self.assumed.get(SUPPORT, 0.0)
        lives: list[_Life] = []
        supported = 0
        for place, label in enumerate(tonnes):
            months = self.months.of_year(label, self.program)
            fed = self._to_come(f"fed_t_by_year[{label}]", months, fed_t)
            of_residual_bin = f"from_residual_bin_t_by_year[{label}]"
            residual = self._to_come(of_residual_bin, months, residual_t)
            ledger = register.parts("program_cost_by_year").get(label)
            booked = ledger.value or 0.0 if ledger is not None else 0.0
            rest = self.register.number(f"cost_by_year[{label}]") - booked
            is_to_come = (label_start(label) or 0) >= (label_start(register.reporting_year) or 0)
            is_supported = support > 0.0 and is_to_come and rest > HALF_CENT
            price = support * (1.0 + self.assumed[INFLATION]) ** supported
            ledger_and_bins = (booked, rest / price) if is_supported else (booked + rest, 0.0)
            life = (label, place, months, fed, residual)
            lives.append(_Life(*life, *ledger_and_bins, supported))
            supported += is_supported
        return lives

    def _to_come(
        self,
        figure_id: str,
        months: Sequence[str],
        of_month: Callable[[FigureRegister, str], float],
    ) -> float:
        """Take the months measured off a year; what is left comes after them."""
        measured = sum(of_month(self.register, month) for month in months)
        left = self.register.number(figure_id) - measured
        return left if left > ROUNDING else 0.0

    def _life_year(self, life: _Life, row: int) -> list[Cell]:
        tonnes, avoided = (
            self.register.number(f"{name}[{life.label}]")
            for name in ("kept_out_of_landfill_t_by_year", "avoided_disposal_cost_by_year")
        )
        feed, share = self.assumed[USUAL_FEED], self.assumed[USUAL_SHARE]
        measured = [self.months.shown[month] for month in life.months]
        to_come = (
            f"(D{row}*{USUAL_SHARE}*(1-{ANYWAY_SHARE})-C{row}*{THROWN_SHARE})"
            f"*{USUAL_FEED}*{LANDFILLED_SHARE}"
        )
        parts = [*measured, *([to_come] if life.fed_to_come_t else [])]
        prices = Prices(self.program, self.register.reporting_year, self.assumed)
        of_t = (
            Formula(prices.formula(one, life.label), prices.value(one, life.label), self.money)
            for one in (LEVY, GATE_FEE)
        )
        support = f"+J{row}*{SUPPORT}*(1+{INFLATION})^K{row}" if self.has_support else ""
        cost = round(self.register.number(f"cost_by_year[{life.label}]"), CENTS)
        return [
            life.label,
            Number(float(life.place)),
            Number(life.fed_to_come_t / feed, TONNES),
            Number(life.residual_to_come_t / (feed * share), TONNES),
            Formula("+".join(parts) or "0", tonnes, TONNES),
            *of_t,
            Formula(f"ROUND(E{row}*(F{row}+G{row}),2)", round(avoided, CENTS), self.money),
            Number(round(life.ledger, CENTS), self.money),
            Number(life.bin_years, "#,##0.0"),
            Number(float(life.supported_years)),
            Formula(f"ROUND(I{row}{support},2)", cost, self.money),
        ]

    def _add_present_values(self, first: int, last: int) -> None:
        column = {name: f"${name}${first}:${name}${last}" for name in "BEFGIJK"}
        for rate in self.register.parts("net_present_value"):
            places = 0 if round(float(rate), 4) == round(float(rate), 2) else CENTS
            percent = self.wording.share(float(rate), places)
            self.page.section(said("model.money.at_rate", rate=percent))
            years = column["B"]
            divisor = f"(1+{INFLATION})^{years}/(1+{discount_cell(rate)})^{years}"
            saved = f"{column['E']}*({column['F']}+{column['G']})"
            spent = column["I"]
            if self.has_support:
                support = f"{SUPPORT}*(1+{INFLATION})^{column['K']}"
                spent = f"({spent}+{column['J']}*{support})"
            benefits, costs = (f"SUMPRODUCT({amount}/{divisor})" for amount in (saved, spent))
            formulas = (
                f"ROUND({benefits},2)",
                f"ROUND({costs},2)",
                f"ROUND({benefits}-{costs},2)",
                f"{benefits}/{costs}",
            )
            figures = (f"{name}[{rate}]" for name in PRESENT_VALUES)
            lines = zip(PRESENT_VALUES, formulas, figures, strict=True)
            self._compare(takewhile(lambda line: self._is_given(line[2]), lines))

    def _compare(self, lines: Iterable[tuple[str, str, str]]) -> None:
        """Write lines of a name, a formula and the figure that it comes to.

        A line without a figure stays, so that the lines below keep their places.
        """
        first = self.page.row + 1
        rows: list[list[Cell]] = []
        for row, (name, formula, figure_id) in enumerate(lines, first):
            cells: list[Cell] = [said("number.not_given"), None, None]
            if self._is_given(figure_id):
                cells = self._beside(formula, self.register[figure_id], row)
            rows.append([said(f"model.money.{name}"), *cells])
        self.page.table(COMPARED, rows)

    def _beside(self, formula: str, figure: Figure, row: int) -> list[Cell]:
        is_ratio = figure.unit == "ratio"
        value = self.register.number(figure.id)
        shown, code = (value, RATIO) if is_ratio else (round(value, CENTS), self.money)
        return compared(formula, shown, shown, code, "B", row)

    def _is_given(self, figure_id: str) -> bool:
        return figure_id in self.register and self.register[figure_id].value is not None
