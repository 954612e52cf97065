"""Live sheet of the emissions account: quantities × factors, line by line, on three bases."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from planner.cells import Cell, Formula, Number
from planner.emissions.account import IN_NET
from planner.emissions.activity import BASES
from planner.figures import FigureRegister
from planner.messages import said
from planner.report.workbook.formats import compared
from planner.report.workbook.model_months import ModelMonths
from planner.report.workbook.page import Book, Page

NAME = "sheet.model.account"
TONNES = "#,##0.0000"
QUANTITIES = ("new_plastic", "recycled_plastic", "bedding", "worms", "moved", "trips")
FREIGHT = "+".join(
    f"{leg}_km*({leg}_freight_kg_co2e_per_t_km+{leg}_freight_supply_kg_co2e_per_t_km)"
    for leg in ("supplier", "delivery")
)
SUPPLIED = {
    "bin_plastic": "{new_plastic}*bin_plastic_virgin_kg_co2e_per_kg"
    "+{recycled_plastic}*bin_plastic_recycled_kg_co2e_per_kg",
    "bin_disposal": "({new_plastic}+{recycled_plastic})*plastic_landfilled_kg_co2e_per_kg",
    "bedding": "{bedding}*bedding_kg_co2e_per_kg",
    "worm_supply": "{worms}*worm_supply_kg_co2e_per_kg",
    "freight": f"{{moved}}/1000*({FREIGHT})",
    "household_trips": "{trips}*household_trip_km*car_kg_co2e_per_km",
}
"""Kilograms CO2-e of each line from the quantities given out."""

ASSUMED = (
    "compost_methane_g_per_kg",
    "compost_nitrous_oxide_g_per_kg",
    "bin_plastic_virgin_kg_co2e_per_kg",
    "bin_plastic_recycled_kg_co2e_per_kg",
    "plastic_landfilled_kg_co2e_per_kg",
    "bedding_kg_co2e_per_kg",
    "worm_supply_kg_co2e_per_kg",
    "supplier_km",
    "supplier_freight_kg_co2e_per_t_km",
    "supplier_freight_supply_kg_co2e_per_t_km",
    "delivery_km",
    "delivery_freight_kg_co2e_per_t_km",
    "delivery_freight_supply_kg_co2e_per_t_km",
    "household_trip_km",
    "car_kg_co2e_per_km",
)
"""Factors of the lines, by the names of their cells."""


def add_model_account(
    book: Book,
    register: FigureRegister,
    months: ModelMonths,
    landfill: Mapping[str, Sequence[str]],
) -> str:
    """Write the sheet from those before; give the address of the net over 100 years."""
    page = book.page(NAME, (44, *[12] * 9), landscape=True)
    page.title(said("model.account.title", year=register.reporting_year))
    page.note("model.account.note")
    cells = _add_quantities(page, register, months)
    page.section("model.account.lines")
    headings = ["model.account.line"]
    for basis in BASES:
        headings += [f"model.basis.{basis}", "model.as_reported", "book.difference"]
    reported_id = f"account_t_co2e[{BASES[0]}.{{}}]"
    names = [n for n in IN_NET if register[reported_id.format(n)].value is not None]
    first, last = page.row + 1, page.row + len(names)
    rows: list[list[Cell]] = []
    for row, name in enumerate(names, start=first):
        # a line whose quantity is not shown has the planner's own figure
        line: list[Cell] = [register[reported_id.format(name)].label.partition(" (")[0]]
        for basis, column in zip(BASES, "BEH", strict=True):
            value = register.number(f"account_t_co2e[{basis}.{name}]")
            formula = _formula(name, basis, cells, months, landfill)
            line += compared(formula, value, value, TONNES, column, row)
        rows.append(line)
    total: list[Cell] = [said("model.account.net")]
    for basis, column in zip(BASES, "BEH", strict=True):
        net = register.number(f"account_t_co2e[{basis}.net]")
        summed = f"SUM({column}{first}:{column}{last})"
        total += compared(summed, net, net, TONNES, column, last + 1)
    page.table(headings, rows, total)
    return f"'{page.sheet.title}'!$H${last + 1}"


def _add_quantities(
    page: Page, register: FigureRegister, months: ModelMonths
) -> dict[tuple[str, str], str]:
    page.section("model.account.quantities")
    first = page.row + 1
    fed = ("fed_t", "fed_to_date_t", "fed_t")
    places = (months.fed_sums[0], months.fed_sums[1], months.fed_sums[0])
    rows: list[list[Cell]] = [[said("model.account.fed")]]
    for place, name in zip(places, fed, strict=True):
        rows[0].append(Formula(place, register.number(name), TONNES))
    cells = {(basis, "fed"): f"${c}${first}" for basis, c in zip(BASES, "BCD", strict=True)}
    not_shown = said("number.not_shown")
    for name in QUANTITIES:
        row = first + len(rows)
        figures = [register[f"account_quantity[{basis}.{name}]"] for basis in BASES]
        words = said(f"model.account.{name}")
        rows.append([words, *(Number(figure.value, "#,##0.0", not_shown) for figure in figures)])
        for basis, column, figure in zip(BASES, "BCD", figures, strict=True):
            if figure.value is not None:
                cells[basis, name] = f"${column}${row}"
    page.table(("book.quantity", *(f"model.basis.{basis}" for basis in BASES)), rows)
    return cells


def _formula(
    name: str,
    basis: str,
    cells: Mapping[tuple[str, str], str],
    months: ModelMonths,
    landfill: Mapping[str, Sequence[str]],
) -> str:
    """Tonnes CO2-e of a line as a formula; empty where it cannot be reckoned here."""
    is_short = months.has_hidden_in_year or (months.has_hidden and basis != "100_years")
    fed = cells[basis, "fed"]
    if name == "landfill_methane":
        return "" if is_short else "+".join(landfill[basis])
    if name == "bin_methane":
        return f"-{fed}*compost_methane_g_per_kg*methane_gwp100/1000"
    if name == "bin_nitrous_oxide":
        return f"-{fed}*compost_nitrous_oxide_g_per_kg*nitrous_oxide_gwp100/1000"
    quantities = {n: cells.get((basis, n), "") for n in QUANTITIES}
    if name not in SUPPLIED or "" in quantities.values():
        return ""
    return f"-({SUPPLIED[name].format(**quantities)})/1000"
