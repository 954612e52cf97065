"""A workbook in the making: its pages, the names of its cells, and its file."""

from __future__ import annotations

from typing import TYPE_CHECKING

from openpyxl import Workbook
from openpyxl.workbook.defined_name import DefinedName

from planner.cells import safe_text
from planner.report.wording import worded
from planner.report.workbook.page import Page
from planner.workbooks import workbook_bytes

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from planner.report.wording import Wording


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

    def name_cell(self, name: str, sheet: str, row: int, column: str = "B") -> None:
        """Name a cell, so that formulas read as words."""
        target = f"'{sheet}'!${column}${row}"
        self.workbook.defined_names[name] = DefinedName(name, attr_text=target)

    def contents(self, written_at: dt.datetime, picture_words: str = "") -> bytes:
        """Give the file; the same pages give the same bytes."""
        for page in self.pages:
            page.finish()
        values = {page.sheet.title: page.values for page in self.pages}
        return workbook_bytes(self.workbook, written_at, picture_words, values)
