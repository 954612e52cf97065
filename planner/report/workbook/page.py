"""A sheet that is filled from top to bottom with titles, notes and tables."""

from __future__ import annotations

import datetime as dt
import io
import math
import textwrap
from collections.abc import Sequence
from copy import copy
from functools import lru_cache
from itertools import zip_longest
from typing import TYPE_CHECKING

from openpyxl import Workbook
from openpyxl.chart import BarChart, LineChart, Reference
from openpyxl.chart.shapes import GraphicalProperties
from openpyxl.drawing.image import Image
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.pagebreak import Break

from planner.cells import Cell, Formula, Number, put_content, safe_text
from planner.report import style
from planner.report.wording import Wording, worded
from planner.workbooks import workbook_bytes

if TYPE_CHECKING:
    from openpyxl.cell.cell import Cell as SheetCell
    from openpyxl.styles.cell_style import StyleArray
    from openpyxl.worksheet.worksheet import Worksheet


A4 = 9
"""Paper size of the file format."""

POINTS_PER_LINE, PIXELS_PER_ROW = 13.0, 17.5
CHARACTERS_PER_WIDTH = 1.2
"""Characters of running text that fit a unit of column width, at body size."""

NATIVE_CHART_ROWS = 20
"""Rows of usual height that a chart drawn by the spreadsheet program covers."""

CHART_WIDTH_CM, CHART_HEIGHT_CM = 24.0, 9.0

MARGIN_INCHES = 0.5
THIN = Side(style="thin", color=style.RULE.lstrip("#"))
STRONG = Side(style="medium", color=style.MAIN.lstrip("#"))


@lru_cache(maxsize=64)
def _font(
    points: float = style.BODY_POINTS, colour: str = style.INK, *, bold: bool = False
) -> Font:
    return Font(name=style.SHEET_FONT, size=points, color=colour.lstrip("#"), bold=bold)


class Page:
    """One sheet and the row that is written next; widths of columns are in characters."""

    def __init__(
        self,
        sheet: Worksheet,
        widths: Sequence[float],
        footer: str,
        *,
        landscape: bool = False,
        is_one_page: bool = False,
    ) -> None:
        self.sheet, self.widths, self.footer = sheet, tuple(widths), footer
        self.landscape, self.is_one_page = landscape, is_one_page
        self.row = 1
        self.values: dict[str, float] = {}
        self._looks: dict[tuple[object, ...], StyleArray] = {}
        self._frozen_row = self._last_printed = 0
        for place, width in enumerate(widths, start=1):
            self.sheet.column_dimensions[get_column_letter(place)].width = width
        self.sheet.sheet_view.showGridLines = False

    def title(self, text: str) -> None:
        """Write the sheet's title."""
        self._running(text, _font(style.TITLE_POINTS, style.MAIN, bold=True), style.TITLE_POINTS)

    def section(self, text: str) -> None:
        """Write a heading, with space above."""
        self.row += 1
        self._running(text, _font(style.SECTION_POINTS, bold=True), style.SECTION_POINTS)

    def lead(self, text: str) -> None:
        """Write a sentence that should be read first."""
        self._running(text, _font(style.BODY_POINTS, bold=True), style.BODY_POINTS)

    def note(self, text: str) -> None:
        """Write a sentence across the whole width."""
        self._running(text, _font(style.NOTE_POINTS, style.MUTED), style.NOTE_POINTS)

    def table(
        self,
        headings: Sequence[str],
        rows: Sequence[Sequence[Cell]],
        total: Sequence[Cell] | None = None,
        *,
        stays_in_sight: bool = False,
    ) -> None:
        """Write a table with a heading row, and a row of totals where given.

        The headings of the one table that stays in sight are frozen, and printed on every page.
        """
        if stays_in_sight:
            self._frozen_row = self.row
        columns = zip_longest(*(rows or [total or ()]))
        firsts = [next((c for c in column if c is not None), None) for column in columns]
        self._heading_row(headings, [_alignment(p, content) for p, content in enumerate(firsts)])
        for cells in rows:
            self._row(cells, _font(), THIN)
        if total is not None:
            self._row(total, _font(bold=True), STRONG)

    def new_page(self) -> None:
        """Begin a printed page here."""
        self.sheet.row_breaks.append(Break(id=self.row - 1))

    def print_no_further(self) -> None:
        """Leave what follows, rows by the hundred to look things up in, out of what is printed."""
        self.note("book.not_printed")
        self._last_printed = self.row - 1

    def picture(self, png: bytes, width_pixels: int, rows: int = 0) -> None:
        """Place a picture and leave rows of body height for it, as many as it needs unless said."""
        image = Image(io.BytesIO(png))
        image.width, image.height = width_pixels, image.height * width_pixels / image.width
        rows = rows or int(image.height / PIXELS_PER_ROW) + 1
        self.sheet.add_image(image, f"A{self.row}")
        for row in range(self.row, self.row + rows):
            self.sheet.row_dimensions[row].height = POINTS_PER_LINE
        self.row += rows

    def native_chart(
        self, title: str, unit: str, column: int, rows: tuple[int, int], *, is_line: bool = False
    ) -> None:
        """Let the spreadsheet program draw a column over the first one, below what is written."""
        self.row += 1
        chart = LineChart() if is_line else BarChart()
        chart.title, chart.y_axis.title, chart.legend = worded(title), worded(unit), None
        chart.width, chart.height = CHART_WIDTH_CM, CHART_HEIGHT_CM
        # without this the axes of a chart made here are hidden in newer programs
        chart.x_axis.delete = chart.y_axis.delete = False
        names, numbers = (
            Reference(self.sheet, min_col=place, min_row=rows[0], max_row=rows[1])
            for place in (1, column)
        )
        chart.add_data(numbers)
        chart.set_categories(names)
        series = chart.series[0]
        colour = (style.MAIN if is_line else style.FILL).lstrip("#")
        if is_line:
            series.graphicalProperties.line.solidFill = colour
            series.smooth = False
        else:
            series.graphicalProperties = GraphicalProperties(solidFill=colour)
        self.sheet.add_chart(chart, f"A{self.row}")
        self.row += NATIVE_CHART_ROWS

    def finish(self) -> None:
        """Set what is printed and what stays in sight."""
        sheet, last = self.sheet, get_column_letter(len(self.widths))
        sheet.print_area = f"A1:{last}{self._last_printed or max(1, self.row - 1)}"
        sheet.page_setup.paperSize = A4
        sheet.page_setup.orientation = "landscape" if self.landscape else "portrait"
        sheet.sheet_properties.pageSetUpPr.fitToPage = True
        sheet.page_setup.fitToWidth = 1
        sheet.page_setup.fitToHeight = 1 if self.is_one_page else 0
        for side in ("left", "right", "top", "bottom"):
            setattr(sheet.page_margins, side, MARGIN_INCHES)
        sheet.oddFooter.left.text = self.footer.replace("&", "&&")
        sheet.oddFooter.right.text = "&P / &N"
        if self._frozen_row:
            sheet.freeze_panes = f"B{self._frozen_row + 1}"
            if not self._last_printed:
                sheet.print_title_rows = f"{self._frozen_row}:{self._frozen_row}"

    def _running(self, text: str, font: Font, points: float) -> None:
        last = len(self.widths)
        self.sheet.merge_cells(
            start_row=self.row, end_row=self.row, start_column=1, end_column=last
        )
        text = worded(text)
        cell = self._put(1, text)
        cell.font = font
        cell.alignment = Alignment(wrap_text=True, vertical="top")
        size = points / style.BODY_POINTS
        self._set_height(_lines(text, sum(self.widths) / size) * size)
        self.row += 1

    def _heading_row(self, headings: Sequence[str], below: Sequence[Alignment]) -> None:
        for place, text in enumerate(headings, start=1):
            cell = self._put(place, worded(text))
            cell.font = _font(bold=True)
            cell.fill = PatternFill("solid", fgColor=style.SHADE.lstrip("#"))
            cell.border = Border(bottom=STRONG)
            under = below[place - 1] if place <= len(below) else Alignment()
            cell.alignment = Alignment(
                wrap_text=True, vertical="bottom", horizontal=under.horizontal, indent=under.indent
            )
        fits = [
            _lines(worded(text), width * 0.9)
            for text, width in zip(headings, self.widths, strict=False)
        ]
        self._set_height(max(fits, default=1))
        self.row += 1

    def _row(self, cells: Sequence[Cell], font: Font, rule: Side) -> None:
        for place, content in enumerate(cells, start=1):
            cell = self._put(place, content)
            self._dress(cell, content, font, rule, is_first=place == 1)
        fits = [
            _lines(text, width)
            for text, width in zip(cells, self.widths, strict=False)
            if isinstance(text, str)
        ]
        self._set_height(max(fits, default=1))
        self.row += 1

    def _dress(
        self, cell: SheetCell, content: Cell, font: Font, rule: Side, *, is_first: bool
    ) -> None:
        """Give a cell of a table its look; cells that look alike share one."""
        code = "" if content is None or isinstance(content, str) else content.number_format
        look = (font.bold, rule is STRONG, is_first, type(content), code)
        known = self._looks.get(look)
        if known is not None:
            # setting each part again would hash it again, a hundred thousand times a report
            cell._style = copy(known)
            return
        if code:
            cell.number_format = code
        cell.font = font
        cell.border = Border(**({"top": rule} if rule is STRONG else {"bottom": rule}))
        cell.alignment = _alignment(0 if is_first else 1, content)
        self._looks[look] = copy(cell._style)

    def _put(self, place: int, content: Cell) -> SheetCell:
        cell: SheetCell = self.sheet.cell(self.row, place)
        put_content(cell, content)
        if isinstance(content, Formula):
            self.values[cell.coordinate] = content.value
        return cell

    def single_line(self, row: int, first: int, last: int) -> None:
        """Let the text of a cell run over the cells beside it, on one line."""
        self.sheet.merge_cells(start_row=row, end_row=row, start_column=first, end_column=last)
        self.sheet.row_dimensions[row].height = POINTS_PER_LINE + 2.0

    def _set_height(self, lines: float) -> None:
        self.sheet.row_dimensions[self.row].height = POINTS_PER_LINE * lines + 2.0


def _alignment(place: int, content: Cell) -> Alignment:
    """Numbers to the right, except in the first column, whose cells name the row."""
    if place and (content is None or isinstance(content, Number | Formula)):
        return Alignment(vertical="center", horizontal="right")
    is_text = isinstance(content, str)
    return Alignment(
        wrap_text=is_text, vertical="center", horizontal="left", indent=1 if place else 0
    )


def _lines(text: str, width: float) -> int:
    fits = max(1, math.floor(width * CHARACTERS_PER_WIDTH))
    # most cells are short, and wrapping is slow
    return sum(1 if len(line) <= fits else _wrapped(line, fits) for line in text.split("\n"))


@lru_cache(maxsize=4096)
def _wrapped(line: str, fits: int) -> int:
    """Lines that a long one takes; many rows say the same."""
    return len(textwrap.wrap(line, fits)) or 1


class Book:
    """A workbook to read and print, filled page by page.

    Its footer is the foot of every printed page, unless the page has its own.
    """

    def __init__(self, title: str, council: str, wording: Wording, footer: str = "") -> None:
        self.workbook = Workbook()
        self.workbook.remove(self.workbook.worksheets[0])
        self.workbook.properties.title = safe_text(title)
        self.workbook.properties.creator = safe_text(council)
        self.council, self.wording = council, wording
        self.footer = footer or f"{council}: {title}"
        self.pages: list[Page] = []

    def page(
        self,
        name: str,
        widths: Sequence[float],
        *,
        footer: str = "",
        landscape: bool = False,
        is_one_page: bool = False,
    ) -> Page:
        """Begin a page; its place among the sheets is taken now."""
        page = Page(
            self.workbook.create_sheet(worded(name)),
            widths,
            footer or self.footer,
            landscape=landscape,
            is_one_page=is_one_page,
        )
        self.pages.append(page)
        return page

    def name_cell(self, name: str, sheet: str, row: int) -> None:
        """Name a cell of the second column, so that formulas read as words."""
        target = f"'{sheet}'!$B${row}"
        self.workbook.defined_names[name] = DefinedName(name, attr_text=target)

    def contents(self, written_at: dt.datetime, picture_words: str = "") -> bytes:
        """Give the file; the same pages give the same bytes."""
        for page in self.pages:
            page.finish()
        values = {page.sheet.title: page.values for page in self.pages}
        return workbook_bytes(self.workbook, written_at, picture_words, values)
