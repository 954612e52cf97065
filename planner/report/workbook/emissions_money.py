"""Sheets of emissions, on three bases side by side, and of money."""

from __future__ import annotations

from typing import TYPE_CHECKING

from babel.numbers import get_currency_precision

from planner.report.wording import decimals
from planner.report.workbook.cells import Number, columns_of_figures, figure_cells
from planner.report.workbook.page import Page

if TYPE_CHECKING:
    from openpyxl import Workbook

    from planner.figures import FigureRegister
    from planner.report.wording import Wording
    from planner.report.workbook.cells import Cell

BASES = ("in_year", "to_date", "100_years")
BASIS_HEADINGS = (
    "t CO2-e",
    *("in the year", "from", "to"),
    *("to date", "from", "to"),
    *("over 100 years", "from", "to"),
)
EMISSION_ROWS = {
    "Landfill methane avoided": "landfill_methane_avoided_{}_t_co2e",
    "less methane and nitrous oxide of the bins": "bin_process_gases_{}_t_co2e",
    "Emissions avoided": "emissions_avoided_{}_t_co2e",
}
BASIS_NOTES = (
    "In the year: methane that all scraps kept out so far would have sent up within the year.",
    "To date: the same from the first bin to the end of the year.",
    "Over 100 years: methane that the year's scraps alone would have sent up within 100 years.",
    "The bases count some of the same methane and are never added. Biogenic carbon dioxide is "
    "not counted. No offset, no credit, no claim that worm bins emit less than other composting.",
)
SINGLE_YEARS = 20
TEN_YEARS = 10
DECAY = "landfill_methane_avoided_by_year_t_co2e"

MONEY_FIGURES = (
    "budget",
    "program_cost_to_date",
    "avoided_disposal_cost",
    "cost_per_t_kept_out",
    "cost_per_t_kept_out_to_date",
    "cost_per_t_co2e",
)


def add_emissions(workbook: Workbook, register: FigureRegister, wording: Wording) -> None:
    """Write the sheet of emissions: the three bases, then the methane year by year."""
    page = Page(workbook, "Emissions", (42, *[9] * 9))
    page.title(f"Emissions avoided, {register.reporting_year}")
    for note in BASIS_NOTES:
        page.note(note)
    page.row += 1
    rows: list[list[Cell]] = [
        [name, *_three_bases(register, figure_id, wording)]
        for name, figure_id in EMISSION_ROWS.items()
    ]
    page.table(BASIS_HEADINGS, rows[:-1], rows[-1])
    _add_decay(page, register, wording)
    page.finish(f"{register.council}, {register.reporting_year}", landscape=True, is_one_page=True)


def _three_bases(register: FigureRegister, figure_id: str, wording: Wording) -> list[Cell]:
    """Cells of one line; the line below is its sum, so all have the finest line's decimals."""
    cells: list[Cell] = []
    for basis in BASES:
        lines = [register[n.format(basis)] for n in EMISSION_ROWS.values()]
        places = max(0, *(decimals(line) for line in lines))
        cells += figure_cells(register[figure_id.format(basis)], wording, places)
    return cells


def _add_decay(page: Page, register: FigureRegister, wording: Wording) -> None:
    by_year = register.parts(DECAY)
    page.section("The 100 years, year by year")
    page.note(
        "Landfill methane that the year's scraps avoid; year 0 is the reporting year. Every year "
        f"to the {SINGLE_YEARS}th, then every tenth; all of them stand on the sheet of figures."
    )
    years = sorted(int(year) for year in by_year)
    shown = [year for year in years if year <= SINGLE_YEARS or year % TEN_YEARS == 0]
    total = register["landfill_methane_avoided_100_years_t_co2e"]
    cells = columns_of_figures([[*(by_year[str(y)] for y in shown), total]], wording)
    rows: list[list[Cell]] = [
        [Number(float(year)), *row] for year, row in zip(shown, cells[:-1], strict=True)
    ]
    whole = f"All years from {years[0]} to {years[-1]}"
    page.table(("year", "t CO2-e", "from", "to"), rows, [whole, *cells[-1]])


def add_money(workbook: Workbook, register: FigureRegister, wording: Wording) -> None:
    """Write the sheet of money: the ledger by category, then what follows from it."""
    page = Page(workbook, "Money", (58, 14, 14, 14, 12))
    page.title(f"Money in {register.reporting_year}")
    page.note("Receipts, as co-payments, stand in the ledger with a minus and are taken off.")
    page.row += 1
    places = get_currency_precision(wording.currency)
    rows = [
        [category.replace("_", " "), figure_cells(figure, wording, places)[0]]
        for category, figure in register.parts("program_cost").items()
    ]
    cost = register["program_cost"]
    page.table(
        ("Cost in the year, to the ledger's last digit", wording.currency),
        rows,
        [cost.label, figure_cells(cost, wording, places)[0]],
    )
    page.row += 1
    page.table(
        ("Budget and unit costs", "result", "from", "to", "unit"),
        [
            [register[i].label, *figure_cells(register[i], wording), wording.unit(register[i])]
            for i in MONEY_FIGURES
            if i in register
        ],
    )
    page.finish(f"{register.council}, {register.reporting_year}")
