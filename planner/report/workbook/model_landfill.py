"""Live sheet of the landfill: first-order decay of the scraps kept out, month by month."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from planner.arrays import Numbers
from planner.cells import MONTH_FORMAT, Cell, Day, Formula, Number
from planner.figures import FigureRegister
from planner.messages import said
from planner.report.wording import Wording, first_day
from planner.report.workbook.formats import compared
from planner.report.workbook.model_months import ModelMonths
from planner.report.workbook.named_cells import Emitted, Site, site_decay
from planner.report.workbook.page import Book, Page
from planner.units import MONTHS_PER_YEAR

NAME = "sheet.model.landfill"
HORIZON_YEARS = 100
HORIZON_MONTHS = HORIZON_YEARS * MONTHS_PER_YEAR
SHARE = "0.0000"
TONNES = "#,##0.0000"
FIRST_WIDTH, WIDTH = 13, 14
CHART_YEARS = 30


def add_model_landfill(
    book: Book,
    register: FigureRegister,
    assumed: Mapping[str, float],
    sites: Sequence[Site],
    months: ModelMonths,
) -> Mapping[str, Sequence[str]]:
    """Write the sheet: for each landfill the year, the program to date, and 100 years.

    Gives for each basis the addresses of the landfills' sums [t CO2-e].
    """
    in_year = [month for month in months.names if month >= months.year_start]
    widths = (FIRST_WIDTH, *[WIDTH] * max(9, len(in_year) + 4))
    page = book.page(NAME, widths, landscape=True)
    page.title("model.landfill.title")
    page.note("model.landfill.note")
    writer = _Writer(page, register, assumed, months, book.wording)
    for site in sites:
        writer.add_site(site, is_alone=len(sites) == 1)
    return writer.totals


@dataclass(frozen=True)
class _Writer:
    """Fills the sheet from top to bottom and keeps where the sums are."""

    page: Page
    register: FigureRegister
    assumed: Mapping[str, float]
    months: ModelMonths
    wording: Wording
    # addresses of the landfills' sums on each basis [t CO2-e]
    totals: Mapping[str, list[str]] = field(
        default_factory=lambda: {"in_year": [], "to_date": [], "100_years": []}
    )

    def add_site(self, site: Site, *, is_alone: bool) -> None:
        """Write one landfill's steps, months and years."""
        if not is_alone:
            self.page.section(said("model.landfill_named", name=site.name))
        emitted = self._add_steps(site)
        self._add_months(site, emitted)
        self._add_years(site, emitted, is_alone=is_alone)

    def _add_steps(self, site: Site) -> Emitted:
        page, decay = self.page, site_decay(site, self.assumed)
        page.section("model.landfill.captured")
        first = page.row + 1
        rows: list[list[Cell]] = []
        captured = np.asarray(decay.captured_share, dtype=float)
        rate = site.cell("food_decay_rate_per_year")
        for n, age in enumerate(site.step_ages_years):
            row, before = first + n, f"B{first + n - 1}" if n else "0"
            share = f"MIN(1,captured_multiplier*{site.captured(age)})"
            gone = f"1-EXP(-{rate}/12*MAX(0,A{row}*12-delay_months-from_deposit_months))"
            decayed = float(decay.decayed_share(age * MONTHS_PER_YEAR))
            rise = captured[n] - (captured[n - 1] if n else 0.0)
            rows.append(
                [
                    Number(float(age)),
                    Formula(share, float(captured[n]), SHARE),
                    Formula(f"B{row}-{before}", float(rise), SHARE),
                    Formula(gone, decayed, SHARE),
                ]
            )
        headings = ("from_age", "captured_part", "rise", "decayed")
        page.table([f"model.landfill.{name}" for name in headings], rows)
        last = page.row - 1
        return Emitted(site, decay, f"$C${first}:$C${last}", f"$D${first}:$D${last}")

    def _add_months(self, site: Site, emitted: Emitted) -> None:
        page, names = self.page, self.months.names
        page.section("model.landfill.year_and_date")
        of_ages = ("start_age", "end_age", "air_by_start", "air_by_end", "in_year", "to_date")
        headings = ("model.month", "model.kept_out", *(f"model.landfill.{one}" for one in of_ages))
        first = page.row + 1
        rows = [self._month(site, emitted, name, first + n) for n, name in enumerate(names)]
        values = np.array([[row[6].value, row[7].value] for row in rows])  # type: ignore[union-attr]
        last = first + len(rows) - 1
        sums = [float(total) for total in values.sum(axis=0)] if rows else [0.0, 0.0]
        total: list[Cell] = [
            said("model.sum"),
            *[None] * 5,
            Formula(f"SUM(G{first}:G{last})", sums[0], TONNES),
            Formula(f"SUM(H{first}:H{last})", sums[1], TONNES),
        ]
        page.table(headings, rows, total)
        for basis, column in (("in_year", "G"), ("to_date", "H")):
            self.totals[basis].append(f"'{page.sheet.title}'!${column}${last + 1}")

    def _month(self, site: Site, emitted: Emitted, name: str, row: int) -> list[Cell]:
        start, end = self.months.ages(name)
        tonnes = self.months.values[name]
        before, after = (float(emitted.decay.emitted_share(age)) for age in (start, end))
        scale = f"{site.scale}*methane_gwp100"
        factor = site.scale_value(self.assumed) * self.assumed["methane_gwp100"]
        return [
            Day(first_day(name), MONTH_FORMAT),
            Formula(self.months.shown[name], tonnes, TONNES),
            Number(float(start)),
            Number(float(end)),
            Formula(emitted.formula(f"C{row}"), before, SHARE),
            Formula(emitted.formula(f"D{row}"), after, SHARE),
            Formula(f"B{row}*(F{row}-E{row})*{scale}", tonnes * (after - before) * factor, TONNES),
            Formula(f"B{row}*F{row}*{scale}", tonnes * after * factor, TONNES),
        ]

    def _add_years(self, site: Site, emitted: Emitted, *, is_alone: bool) -> None:
        """Write the hundred years of the year's scraps, month of deposit by month."""
        page, months = self.page, self.months
        page.section("model.landfill.hundred")
        if months.has_hidden_in_year:
            page.note("model.landfill.left_out")
            return
        page.note("model.landfill.hundred_note")
        names = [name for name in months.names if name >= months.year_start]
        reported = ("model.as_reported", "book.difference") if is_alone else ()
        written = tuple(self.wording.month(name) for name in names)
        count, first = len(names), page.row + 2
        tonnes = [Formula(months.shown[n], months.values[n], TONNES) for n in names]
        shares = _shares_by_year(emitted, count)
        scale = site.scale_value(self.assumed) * self.assumed["methane_gwp100"]
        yearly = np.diff(shares, axis=0) @ [months.values[name] for name in names] * scale
        start: list[Cell] = [said("model.tonnes"), *tonnes]
        rows = [start, _share_cells(emitted, -1, shares[0])]
        for year, value in enumerate(yearly):
            row = self._year(site, emitted, year, first + 1 + year, shares[year + 1], float(value))
            rows.append(row[: 2 + count + len(reported)])
        last, letter = first + len(yearly), _letter(count + 1)
        whole = f"SUM({letter}{first + 1}:{letter}{last})"
        total = Formula(whole, float(yearly.sum()), TONNES)
        headings = ("model.years_on", *written, "unit.t_co2_e", *reported)
        page.table(headings, rows, [said("model.sum"), *[None] * count, total])
        shown = first + 1, first + CHART_YEARS + 1
        title = "model.landfill.chart"
        page.native_chart(title, "unit.t_co2_e", count + 2, shown, is_line=True)
        self.totals["100_years"].append(f"'{page.sheet.title}'!${letter}${last + 1}")

    def _year(
        self, site: Site, emitted: Emitted, year: int, row: int, shares: Numbers, value: float
    ) -> list[Cell]:
        """One year: tonnes times what each month's share rose by since the row above."""
        last, tonnes_row = _letter(shares.size), row - year - 2
        rises = f"B{row}:{last}{row}-B{row - 1}:{last}{row - 1}"
        product = f"SUMPRODUCT(B{tonnes_row}:{last}{tonnes_row},{rises})"
        formula, column = f"{product}*{site.scale}*methane_gwp100", _letter(shares.size + 1)
        reported = self.register.number(f"landfill_methane_avoided_by_year_t_co2e[{year}]")
        beside = compared(formula, value, reported, TONNES, column, row)
        return [*_share_cells(emitted, year, shares), *beside]


def _share_cells(emitted: Emitted, year: int, shares: Numbers) -> list[Cell]:
    """Share in the air of each month's methane by the end of a year; "start" before the first."""
    return [
        Number(float(year)) if year >= 0 else said("model.landfill.start"),
        *(
            Formula(
                emitted.formula(str(_age_months(shares.size, place, year))), float(share), SHARE
            )
            for place, share in enumerate(shares)
        ),
    ]


def _age_months(count: int, place: int, year: int) -> int:
    """Age at the end of a year of the scraps of the year's month `place`, 100 years at most."""
    if year < 0:
        return 0
    return min(HORIZON_MONTHS, count + MONTHS_PER_YEAR * year - place)


def _shares_by_year(emitted: Emitted, count: int) -> Numbers:
    """Share in the air by each year's end, shape (102, months)."""
    ages = [
        [_age_months(count, place, year) for place in range(count)]
        for year in range(-1, HORIZON_YEARS + 1)
    ]
    return emitted.decay.emitted_share(np.array(ages, dtype=float))


def _letter(place: int) -> str:
    return chr(ord("A") + place)
