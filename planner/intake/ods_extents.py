"""How much an .ods file spans: it writes repeated rows, cells and spaces as counts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.intake import limits
from planner.intake.extents import check_span, parse_part

if TYPE_CHECKING:
    from planner.intake.archive import Archive

CONTENT = "content.xml"
_CELLS = ("table:table-cell", "table:covered-table-cell")
_COUNT_DIGITS = 12


def check_ods_extents(archive: Archive) -> None:
    """Refuse an .ods file whose repeats span more than the reader can lay out.

    Raises
    ------
    IntakeError
        A sheet spans too many columns or cells, or text is repeated too often.
    """
    part = archive.parts.get(CONTENT)
    if part is not None and part.file_size > limits.ODS_BYTES_MOST:
        most = limits.ODS_BYTES_MOST // limits.MIB
        archive.refuse(f"it unpacks to more than {most} MiB", "Save it as .xlsx, or as CSV.")
    if part is not None:
        follower = _Follower(archive)
        parse_part(archive, CONTENT, follower.start, follower.end, follower.text)


class _Follower:
    """Count rows, columns and text as they stand once repeats are written out."""

    def __init__(self, archive: Archive) -> None:
        self.archive = archive
        self.depth = self.spaces = self.letters = self.repeated = 0
        self._new_sheet()

    def _new_sheet(self) -> None:
        self.rows = self.columns = self.height = 0
        self._new_row(1)

    def _new_row(self, repeat: int) -> None:
        self.row_repeat, self.width, self.row_width = repeat, 0, 0
        self._new_cell(1)

    def _new_cell(self, repeat: int) -> None:
        self.cell_repeat, self.is_filled = repeat, False

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        self.depth += 1
        if self.depth > limits.DEPTH_MOST:
            self.archive.refuse("its elements nest too deep")
        if tag == "table:table":
            self._new_sheet()
        elif tag == "table:table-row":
            self._new_row(_count(attributes.get("table:number-rows-repeated")))
        elif tag in _CELLS:
            self._new_cell(_count(attributes.get("table:number-columns-repeated")))
            self.is_filled = any(name.startswith("office:") for name in attributes)
        elif tag == "text:s":
            self.spaces += _count(attributes.get("text:c"))
            if self.spaces > limits.SPACES_MOST:
                self.archive.refuse("it repeats spaces without end")
        elif tag == "text:p":
            self.is_filled = True

    def text(self, text: str) -> None:
        self.letters += len(text) * self.cell_repeat * self.row_repeat
        if self.letters > limits.TEXT_IN_CELLS_BYTES_MOST:
            self.archive.refuse("the same long text stands in very many of its cells")

    def _count_repeats(self) -> None:
        self.repeated += self.cell_repeat * self.row_repeat - 1
        if self.repeated > limits.REPEATED_CELLS_MOST:
            self.archive.refuse("it repeats a filled cell without end")

    def end(self, tag: str) -> None:
        self.depth -= 1
        if tag in _CELLS:
            self.width += self.cell_repeat
            if self.is_filled:
                self.row_width = self.width
                self._count_repeats()
            self._new_cell(1)
        elif tag == "table:table-row":
            self.height += self.row_repeat
            if self.row_width:
                self.rows = self.height
                self.columns = max(self.columns, self.row_width)
                check_span(self.archive, self.rows, self.columns)
            self._new_row(1)


def _count(text: str | None) -> int:
    is_number = bool(text) and str(text).isdecimal() and len(str(text)) <= _COUNT_DIGITS
    return int(str(text)) if is_number else 1
