"""Live sheet of money: cost and avoided disposal of the year, and what the lives are worth."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.cells import Formula, Number
from planner.report.workbook.formats import number_format
from planner.report.workbook.model_months import LANDFILLED_SHARE

if TYPE_CHECKING:
    from collections.abc import Mapping

    from planner.cells import Cell
    from planner.figures import FigureRegister
    from planner.report.wording import Wording
    from planner.report.workbook.book import Book
    from planner.report.workbook.model_months import ModelMonths
    from planner.report.workbook.page import Page

NAME = "Model money"
WIDTHS = (58, *[15] * 6)
DIFFERENCE = "0.0E+00"
TONNES = "#,##0.000"
RATIO = "0.000"
LEVY, GATE_FEE, INFLATION = "landfill_levy_per_t", "gate_fee_per_t", "inflation_share"
CENTS = 2
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


def add_model_money(
    book: Book,
    register: FigureRegister,
    wording: Wording,
    assumed: Mapping[str, float],
    months: ModelMonths,
    net_cell: str,
) -> None:
    """Write the sheet.

    Parameters
    ----------
    book
        Takes the sheet.
    register, wording
        Figures of money, and the council's currency.
    assumed
        Values of the assumptions by name.
    months
        Where the tonnes kept out of landfill stand.
    net_cell
        Address of the net emissions over 100 years.
    """
    page = book.add(NAME, WIDTHS)
    page.title(f"Money in {register.reporting_year}, reckoned again")
    writer = _Writer(page, register, wording, assumed)
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
        wording: Wording,
        assumed: Mapping[str, float],
    ) -> None:
        self.page, self.register, self.assumed = page, register, assumed
        self.money = number_format(wording.currency, CENTS, wording)

    def add_ledger(self) -> str:
        """Write the ledger by category and give the address of its sum."""
        page, parts = self.page, self.register.parts("program_cost")
        page.section("Ledger of the year")
        first = page.row + 1
        rows: list[list[Cell]] = [
            [category.replace("_", " "), Number(figure.value, self.money)]
            for category, figure in parts.items()
        ]
        last = first + len(rows) - 1
        value = self._value("program_cost")
        total = f"SUM(B{first}:B{last})" if rows else "0"
        page.table(
            ("category", "sum"),
            rows,
            ["Program cost in the year", *self._beside(total, value, last + 1)],
        )
        return f"$B${last + 1}"

    def add_year(self, cost: str, kept_out: str, net: str) -> None:
        """Write what is not paid for landfill, and the cost of a tonne."""
        page = self.page
        page.section("The year")
        avoided_levy = f"{kept_out}*{LEVY}"
        lines = (
            ("Landfill levy not paid", avoided_levy, "avoided_levy"),
            ("Gate fee not paid", f"{kept_out}*{GATE_FEE}", "avoided_gate_fee"),
            (
                "Program cost less levy and gate fee not paid",
                f"{cost}-{kept_out}*({LEVY}+{GATE_FEE})",
                "net_program_cost",
            ),
            ("Cost for each tonne kept out", f"{cost}/{kept_out}", "cost_per_t_kept_out"),
            ("Cost for each tonne CO2-e over 100 years", f"{cost}/{net}", "cost_per_t_co2e"),
        )
        first = page.row + 1
        given = [line for line in lines if self._is_given(line[2])]
        page.table(
            ("", "this sheet", "as reported", "difference"),
            [
                [words, *self._beside(formula, self._value(figure_id), first + n)]
                for n, (words, formula, figure_id) in enumerate(given)
            ],
        )

    def add_lives(self) -> None:
        """Write the years of the bins' lives and their present values."""
        page, register = self.page, self.register
        page.section("Over the service lives of the bins given so far")
        tonnes = register.parts("kept_out_of_landfill_t_by_year")
        if not tonnes or any(figure.value is None for figure in tonnes.values()):
            page.note("Left out: a year has too few bins to be shown.")
            return
        page.note(
            "Kept out of landfill = from the residual bin × landfilled_share. Not paid = that × "
            "levy and gate fee of the year. Present value = sum over years of amount ÷ (1 + "
            "inflation_share)^years ÷ (1 + discount rate)^years, from the program's first year."
        )
        first = page.row + 1
        rows = [self._life_year(label, place, first + place) for place, label in enumerate(tonnes)]
        headings = (
            "year",
            "years on",
            "from the residual bin, t",
            "kept out of landfill, t",
            "levy and gate fee of a tonne",
            "not paid",
            "cost",
        )
        page.table(headings, rows, stays_in_sight=False)
        self._add_present_values(first, first + len(rows) - 1)

    def _life_year(self, label: str, place: int, row: int) -> list[Cell]:
        tonnes, price, avoided = (
            self._value(f"{name}[{label}]")
            for name in (
                "kept_out_of_landfill_t_by_year",
                "disposal_price_per_t_by_year",
                "avoided_disposal_cost_by_year",
            )
        )
        share = self.assumed[LANDFILLED_SHARE]
        return [
            label,
            Number(float(place)),
            Number(tonnes / share if share > 0.0 else 0.0, TONNES),
            Formula(f"C{row}*{LANDFILLED_SHARE}", tonnes, TONNES),
            Number(price, self.money),
            Formula(f"D{row}*E{row}", avoided, self.money),
            Number(self.register[f"cost_by_year[{label}]"].value, self.money, "not known"),
        ]

    def _add_present_values(self, first: int, last: int) -> None:
        years = f"$B${first}:$B${last}"
        for rate in self.register.parts("net_present_value"):
            self.page.section(f"At a discount rate of {float(rate):.2%}".replace(".00%", "%"))
            divisor = f"(1+{INFLATION})^{years}/(1+{discount_cell(rate)})^{years}"
            benefits, costs = (
                f"SUMPRODUCT(${column}${first}:${column}${last}/{divisor})" for column in "FG"
            )
            row = self.page.row + 1
            formulas = (benefits, costs, f"B{row}-B{row + 1}", f"B{row}/B{row + 1}")
            rows: list[list[Cell]] = []
            for name, formula in zip(PRESENT_VALUES, formulas, strict=True):
                figure_id = f"{name}[{rate}]"
                if not self._is_given(figure_id):
                    break
                code = RATIO if self.register[figure_id].unit == "ratio" else self.money
                cells = self._beside(formula, self._value(figure_id), row + len(rows), code)
                rows.append([name.replace("_", " "), *cells])
            self.page.table(("", "this sheet", "as reported", "difference"), rows)

    def _beside(
        self, formula: str, reported: float, row: int, code: str | None = None
    ) -> list[Cell]:
        """Set a formula, the planner's own figure and the difference side by side."""
        return [
            Formula(formula, reported, code or self.money),
            Number(reported, code or self.money),
            Formula(f"B{row}-C{row}", 0.0, DIFFERENCE),
        ]

    def _is_given(self, figure_id: str) -> bool:
        return figure_id in self.register and self.register[figure_id].value is not None

    def _value(self, figure_id: str) -> float:
        value = self.register[figure_id].value
        return 0.0 if value is None else value
