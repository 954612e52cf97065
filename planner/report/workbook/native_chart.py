"""Charts that the spreadsheet program draws itself, so that they follow the live sheets."""

from __future__ import annotations

from typing import TYPE_CHECKING

from openpyxl.chart import BarChart, LineChart, Reference
from openpyxl.chart.shapes import GraphicalProperties

from planner.report import style

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

WIDTH_CM, HEIGHT_CM = 24.0, 9.0


def add_native_chart(
    sheet: Worksheet,
    anchor: str,
    title: str,
    unit: str,
    column: int,
    rows: tuple[int, int],
    *,
    is_line: bool = False,
) -> None:
    """Draw one column of numbers over the first column of the same rows.

    Parameters
    ----------
    sheet
        Holds the numbers, and takes the chart.
    anchor
        Cell of its upper left corner.
    title, unit
        What it shows, and the unit of its numbers.
    column
        Place of the numbers, 1 for the first column.
    rows
        First and last row.
    is_line
        Whether it is a line rather than bars.
    """
    chart = LineChart() if is_line else BarChart()
    chart.title, chart.y_axis.title, chart.legend = title, unit, None
    chart.width, chart.height = WIDTH_CM, HEIGHT_CM
    # without this the axes of a chart made here are hidden in newer programs
    chart.x_axis.delete = chart.y_axis.delete = False
    first, last = rows
    chart.add_data(Reference(sheet, min_col=column, min_row=first, max_row=last))
    chart.set_categories(Reference(sheet, min_col=1, min_row=first, max_row=last))
    series = chart.series[0]
    colour = (style.MAIN if is_line else style.FILL).lstrip("#")
    if is_line:
        series.graphicalProperties.line.solidFill = colour
        series.smooth = False
    else:
        series.graphicalProperties = GraphicalProperties(solidFill=colour)
    sheet.add_chart(chart, anchor)
