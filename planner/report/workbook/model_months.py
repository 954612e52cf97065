"""Live sheet of months: fed, and kept out of landfill, from bins in use to tonnes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from planner.cells import MONTH_FORMAT, Cell, Day, Formula, Number
from planner.figures import FigureRegister
from planner.messages import said
from planner.program import Program, label_of_date
from planner.report.wording import first_day
from planner.report.workbook.formats import compared
from planner.report.workbook.model_cohorts import NAME as COHORTS
from planner.report.workbook.named_cells import (
    ANYWAY_SHARE,
    LANDFILLED_SHARE,
    THROWN_SHARE,
    USUAL_FEED,
    USUAL_SHARE,
)
from planner.report.workbook.named_cells import NAME as ASSUMPTIONS
from planner.report.workbook.page import Book, Page
from planner.units import KG_PER_T

NAME = "sheet.model.months"
OF_SHARES = ("model.months.share_ratio", "model.months.share", "model.months.residual")
COMPARED = ("model.kept_out", "model.months.reported", "model.months.difference")
OF_FEED = ("model.bin_weeks", "model.months.feed_ratio", "model.months.feed", "book.months.fed")
HEADINGS = ("model.month", *OF_FEED, *OF_SHARES, *COMPARED)
WEEKS, FEED, SHARE, REPORTED = (
    "in_use_bin_weeks_in_month",
    "feed_kg_per_bin_week_in_month",
    "residual_bin_share_in_month",
    "kept_out_of_landfill_t_in_month",
)
TONNES = "#,##0.000"
WHOLE = "#,##0.0"
RATIO = "0.000"
FED = "fed_t_in_month"
FED_TOTALS = ("fed_t", "fed_to_date_t")
TOTALS = ("kept_out_of_landfill_t", "kept_out_of_landfill_to_date_t")
ROUNDING = 1e-9


@dataclass(frozen=True)
class ModelMonths:
    """Where the sheet of months holds what other sheets reckon on."""

    every: tuple[str, ...]  # each month from the first hand-over on, as 2026-06
    year_start: str  # first month of the reporting year
    # address of the tonnes kept out of landfill in each month that is shown
    shown: Mapping[str, str]
    values: Mapping[str, float]  # what those come to
    # address of the tonnes fed, and kept out of landfill, in the year and to date
    fed_sums: tuple[str, str]
    kept_out_sums: tuple[str, str]

    @property
    def names(self) -> tuple[str, ...]:
        """Months that are shown."""
        return tuple(self.shown)

    @property
    def has_hidden(self) -> bool:
        """Whether a month is not shown."""
        return len(self.shown) < len(self.every)

    @property
    def has_hidden_in_year(self) -> bool:
        """Whether a month of the reporting year is not shown."""
        return any(month >= self.year_start and month not in self.shown for month in self.every)

    def of_year(self, label: str, program: Program) -> tuple[str, ...]:
        """Months of a reporting year; none where one of them is not shown."""
        first_month = program.council.reporting_year_first_month
        within = [m for m in self.every if label_of_date(first_day(m), first_month) == label]
        return tuple(within) if all(month in self.shown for month in within) else ()

    def ages(self, month: str) -> tuple[int, int]:
        """Age of a month's scraps at the start and the end of the reporting year, in months."""
        place = self.every.index(month)
        begun = sum(one < self.year_start for one in self.every)
        return max(0, begun - place), len(self.every) - place


def add_model_months(
    book: Book,
    register: FigureRegister,
    program: Program,
    assumed: Mapping[str, float],
    weeks_cells: Mapping[str, str],
) -> ModelMonths:
    """Write the sheet; `weeks_cells` are addresses of the weeks of bins in use by month."""
    page = book.page(NAME, (13, 14, 14, 16, 11, 14, 16, 16, 15, 13, 13), landscape=True)
    page.title(said("model.months.title", year=register.reporting_year))
    cells = {"usual_feed": USUAL_FEED, "usual_share": USUAL_SHARE, "anyway_share": ANYWAY_SHARE}
    cells |= {"thrown_share": THROWN_SHARE, "landfilled_share": LANDFILLED_SHARE}
    sheets = {"cohorts": said(COHORTS), "assumptions": said(ASSUMPTIONS)}
    page.note(said("model.months.note", **cells, **sheets))
    page.row += 1
    sheet = f"'{page.sheet.title}'!"
    year_start = f"{program.months(register.reporting_year)[0]:%Y-%m}"
    months = [name for name, f in register.parts(REPORTED).items() if f.value is not None]
    before = [month for month in months if month < year_start]
    within = [month for month in months if month >= year_start]
    first = page.row + 1
    rows: list[list[Cell]] = []
    shown: dict[str, str] = {}
    values: dict[str, float] = {}
    begins: list[int] = []
    for part, rest in zip((before, within), _not_shown(register, before, within), strict=True):
        begins.append(first + len(rows))
        if rest[0] > 0.0:
            fed, row = Number(rest[0], TONNES), first + len(rows)
            rows.append(_sums("number.not_shown", fed, "", rest[1], row))
        for month in part:
            row = first + len(rows)
            shown[month] = f"{sheet}$I${row}"
            values[month] = kept_out_t(register, month, assumed)
            rows.append(_month(register, month, row, assumed, weeks_cells.get(month)))
    page.table(HEADINGS, rows, stays_in_sight=True)
    sums = page.row + 1
    _add_totals(page, register, {"model.in_the_year": begins[1], "book.months.to_date": begins[0]})
    last = first + len(rows) - 1
    page.native_chart("model.months.chart", "model.tonnes", 9, (first, last))
    return ModelMonths(
        every=tuple(register.parts(REPORTED)),
        year_start=year_start,
        shown=shown,
        values=values,
        fed_sums=(f"{sheet}$E${sums}", f"{sheet}$E${sums + 1}"),
        kept_out_sums=(f"{sheet}$I${sums}", f"{sheet}$I${sums + 1}"),
    )


def fed_t(register: FigureRegister, month: str) -> float:
    """Tonnes fed in a month as the sheet reckons them."""
    return register.number(f"{WEEKS}[{month}]") * register.number(f"{FEED}[{month}]") / KG_PER_T


def residual_t(register: FigureRegister, month: str) -> float:
    """Of them, tonnes that went to the residual bin before."""
    return fed_t(register, month) * register.number(f"{SHARE}[{month}]")


def kept_out_t(register: FigureRegister, month: str, assumed: Mapping[str, float]) -> float:
    """Tonnes of one month as the sheet reckons them."""
    not_anyway_t = residual_t(register, month) * (1.0 - assumed[ANYWAY_SHARE])
    thrown_t = fed_t(register, month) * assumed[THROWN_SHARE]
    return (not_anyway_t - thrown_t) * assumed[LANDFILLED_SHARE]


def _month(
    register: FigureRegister,
    month: str,
    row: int,
    assumed: Mapping[str, float],
    weeks_cell: str | None,
) -> list[Cell]:
    weeks, feed, share = (register.number(f"{name}[{month}]") for name in (WEEKS, FEED, SHARE))
    reported = register.number(f"{REPORTED}[{month}]")
    tonnes = weeks * feed / KG_PER_T
    kept_t = kept_out_t(register, month, assumed)
    kept_out = f"(H{row}*(1-{ANYWAY_SHARE})-E{row}*{THROWN_SHARE})*{LANDFILLED_SHARE}"
    return [
        Day(first_day(month), MONTH_FORMAT),
        Formula(weeks_cell, weeks, WHOLE) if weeks_cell else Number(weeks, WHOLE),
        Number(feed / assumed[USUAL_FEED], RATIO),
        Formula(f"{USUAL_FEED}*C{row}", feed, "0.000"),
        Formula(f"B{row}*D{row}/1000", tonnes, TONNES),
        Number(share / assumed[USUAL_SHARE], RATIO),
        Formula(f"{USUAL_SHARE}*F{row}", share, "0.0%"),
        Formula(f"E{row}*G{row}", tonnes * share, TONNES),
        *compared(kept_out, kept_t, reported, TONNES, "I", row),
    ]


def _not_shown(
    register: FigureRegister, before: list[str], within: list[str]
) -> tuple[tuple[float, float], ...]:
    """Tonnes fed and kept out in months with too few bins to be shown, before the year and in it.

    They are the whole less the months that are shown.
    """
    if len(register.parts(REPORTED)) == len(before) + len(within):
        return (0.0, 0.0), (0.0, 0.0)
    rests = []
    for parts, year, to_date in ((FED, *FED_TOTALS), (REPORTED, *TOTALS)):
        whole, all_t = register.number(year), register.number(to_date)
        in_year = whole - sum(register.number(f"{parts}[{month}]") for month in within)
        early = all_t - whole - sum(register.number(f"{parts}[{month}]") for month in before)
        rests.append([rest if rest > ROUNDING * all_t else 0.0 for rest in (early, in_year)])
    return tuple(zip(*rests, strict=True))


def _sums(words: str, fed: Cell, kept_out: str, reported: float, row: int) -> list[Cell]:
    """One line with tonnes fed and kept out alone, the latter set beside those reported."""
    none = [None] * 3
    beside = compared(kept_out, reported, reported, TONNES, "I", row)
    return [said(words), *none, fed, *none, *beside]


def _add_totals(page: Page, register: FigureRegister, begins: Mapping[str, int]) -> None:
    """Sum the year and the program to date beside the planner's own totals."""
    last = page.row - 1
    rows: list[list[Cell]] = []
    for (words, begin), fed, figure_id in zip(begins.items(), FED_TOTALS, TOTALS, strict=True):
        row = page.row + 1 + len(rows)
        reported = register.number(figure_id)
        fed_t = Formula(f"SUM(E{begin}:E{last})", register.number(fed), TONNES)
        rows.append(_sums(words, fed_t, f"SUM(I{begin}:I{last})", reported, row))
    page.table(("model.sum", "", "", "", OF_FEED[-1], "", "", "", *COMPARED), rows)
