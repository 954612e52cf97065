"""How many rows and columns a workbook spans, before a reader lays them out."""

from __future__ import annotations

import re
from array import array
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, NoReturn
from xml.parsers import expat

from planner.vetting.archive import (
    CELLS_MOST,
    COLUMNS_MOST,
    DEPTH_MOST,
    MIB,
    ODS_BYTES_MOST,
    REPEATED_CELLS_MOST,
    SPACES_MOST,
    TEXT_IN_CELLS_BYTES_MOST,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from planner.vetting.archive import Archive

_CELL = re.compile(rb'<c(?: r="([A-Z]{1,3})(\d{1,7})")?(?=[\s/>])')
_ROWS_BEGIN = re.compile(rb"<(?:[\w.-]+:)?sheetData[\s/>]")
_OTHER_CELL = re.compile(rb"<[\w.-]+:c[\s/>]")
_REFERENCE = re.compile(r"([A-Za-z]{1,7})(\d{1,10})")
_SHARED_TYPE = re.compile(rb"""\bt\s*=\s*["']s["']""")
_SHARED = re.compile(rb"""\bt\s*=\s*["']s["'][^<>]*>\s*<v>\s*(\d{1,9})\s*</v>""")
_TEXT_END = re.compile(rb"</(?:\w{1,9}:)?si>")
_TEXT_END_BYTES = 16
_LONGEST_TAG = 64 * 1024
_ROW_DIGITS = 10


@dataclass
class _Extent:
    """What a sheet spans so far."""

    rows: int = 0
    columns: int = 0
    shared: int = 0
    is_plain: bool = True
    blocks: int = 0
    holds_texts: bool = False


def check_extents(archive: Archive) -> None:
    """Refuse a workbook whose cells span more than the reader can lay out.

    Most programs write a cell's place as its first attribute; such parts are scanned
    fast. Any other way of writing cells is parsed element by element.

    Raises
    ------
    IntakeError
        A sheet spans too many columns or cells, or the texts of all cells are too long.
    """
    shared_by_part, text_parts = {}, []
    for name in archive.parts:
        if not name.lower().endswith(".xml"):
            continue
        extent = _scanned(archive, name)
        if not extent.is_plain or not _is_within(extent.rows, extent.columns):
            extent = _parsed(archive, name, extent)
        check_span(archive, extent.rows, extent.columns)
        if extent.shared:
            shared_by_part[name] = extent.shared
        if extent.holds_texts:
            text_parts.append(name)
    for name in text_parts:
        _check_texts(archive, name, shared_by_part)


def check_span(archive: Archive, rows: int, columns: int) -> None:
    """Refuse a sheet that spans too much."""
    if columns > COLUMNS_MOST:
        archive.refuse("columns", "delete_columns", columns=columns, most=COLUMNS_MOST)
    if not _is_within(rows, columns):
        archive.refuse("cells", "delete_cells", rows=rows, columns=columns, most=CELLS_MOST)


def _is_within(rows: int, columns: int) -> bool:
    return columns <= COLUMNS_MOST and rows * columns <= CELLS_MOST


def _scanned(archive: Archive, name: str) -> _Extent:
    extent = _Extent()
    carried = b""
    for chunk in archive.chunks(name):
        piece = carried + chunk
        cut = piece.rfind(b"<")
        whole = cut >= 0 and len(piece) - cut < _LONGEST_TAG
        piece, carried = (piece[:cut], piece[cut:]) if whole else (piece, b"")
        _scan(archive, extent, piece)
    _scan(archive, extent, carried)
    return extent


def _scan(archive: Archive, extent: _Extent, piece: bytes) -> None:
    extent.blocks += len(_ROWS_BEGIN.findall(piece))
    _refuse_second_block(archive, extent.blocks)
    places = _CELL.findall(piece)
    if places:
        letters = {place[0] for place in places}
        is_plain = b"" not in letters
        extent.is_plain &= is_plain
        # the reader keeps the last of them, and a row would be lost without a word; the list
        # of formulas to compute names those of all sheets
        is_doubtful = len(set(places)) < len(places) or int(places[0][1] or 0) < extent.rows
        if extent.blocks and is_plain and is_doubtful:
            archive.refuse("same_place")
        extent.columns = max(extent.columns, *(column_number(name) for name in letters))
        extent.rows = max(extent.rows, *(int(place[1] or 0) for place in places))
        extent.shared += len(_SHARED_TYPE.findall(piece))
    extent.holds_texts |= b"si>" in piece
    if _OTHER_CELL.search(piece):
        extent.is_plain = False


def _refuse_second_block(archive: Archive, blocks: int) -> None:
    # the reader takes the first and drops the other without a word
    if blocks > 1:
        archive.refuse("two_blocks")


def column_number(letters: bytes | str) -> int:
    """Count a column's letters from 1.

    Examples
    --------
    >>> column_number("A"), column_number(b"AB"), column_number("xfd")
    (1, 28, 16384)
    """
    text = letters.decode("ascii") if isinstance(letters, bytes) else letters
    number = 0
    for letter in text.upper():
        number = number * 26 + ord(letter) - ord("A") + 1
    return number


def column_letters(number: int) -> str:
    """Write a column's number, from 1, in letters.

    Examples
    --------
    >>> column_letters(1), column_letters(28), column_letters(16384)
    ('A', 'AB', 'XFD')
    """
    letters = ""
    while number:
        number, place = divmod(number - 1, 26)
        letters = chr(ord("A") + place) + letters
    return letters


def refuse_covered(archive: Archive, letters: str, row: int) -> NoReturn:
    """Refuse a file in which merged cells hide a value: nobody who opens it sees what is read."""
    archive.refuse("covered", "unmerge", cell=f"{letters}{row}")


class _CellParser:
    """Follow rows and cells as the reader does; only cells that hold something count."""

    def __init__(self, archive: Archive) -> None:
        self.archive = archive
        self.rows = self.columns = self.row = self.column = self.depth = 0
        self.last, self.blocks = (0, 0), 0

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        self.depth += 1
        if self.depth > DEPTH_MOST:
            self.archive.refuse("too_deep")
        name = tag.rpartition(":")[2]
        self.blocks += name == "sheetData"
        _refuse_second_block(self.archive, self.blocks)
        if name == "row":
            self.row = _whole(attributes.get("r"), self.row + 1)
            self.column = 0
        elif name == "c":
            found = _REFERENCE.fullmatch(attributes.get("r", ""))
            self.column = column_number(found[1]) if found else self.column + 1
            self.row = int(found[2]) if found else max(self.row, 1)
            if self.blocks and (self.row, self.column) <= self.last:
                self.archive.refuse("same_place")
            self.last = self.row, self.column
        elif name in ("v", "is", "f"):
            self.rows = max(self.rows, self.row)
            self.columns = max(self.columns, self.column)

    def end(self, _: str) -> None:
        self.depth -= 1


def _whole(text: str | None, otherwise: int) -> int:
    return int(text) if text and text.isdecimal() and len(text) <= _ROW_DIGITS else otherwise


def _parsed(archive: Archive, name: str, scanned: _Extent) -> _Extent:
    parser = _CellParser(archive)
    parse_part(archive, name, parser.start, parser.end)
    return replace(scanned, rows=parser.rows, columns=parser.columns)


def parse_part(
    archive: Archive,
    name: str,
    start: Callable[[str, dict[str, str]], None],
    end: Callable[[str], None],
    text: Callable[[str], None] | None = None,
) -> None:
    """Parse a part of a workbook element by element."""
    reader = expat.ParserCreate()
    reader.buffer_text = True
    reader.StartElementHandler, reader.EndElementHandler = start, end
    reader.CharacterDataHandler = text
    try:
        for chunk in archive.chunks(name):
            reader.Parse(chunk, False)
        reader.Parse(b"", True)
    except expat.ExpatError:
        archive.refuse("badly_written")


def _check_texts(archive: Archive, text_part: str, shared_by_part: dict[str, int]) -> None:
    """Bound the text of all cells when each repeat of a shared text is written out."""
    count = sum(shared_by_part.values())
    longest = max(max(lengths, default=0) for lengths in _text_lengths(archive, text_part))
    if longest * count <= TEXT_IN_CELLS_BYTES_MOST:
        return
    lengths = array("q")
    for some in _text_lengths(archive, text_part):
        lengths.extend(some)
    total = 0
    for name, expected in shared_by_part.items():
        found = 0
        for chunk in archive.chunks(name):
            used = [int(place) for place in _SHARED.findall(chunk)]
            found += len(used)
            total += sum(lengths[place] for place in used if place < len(lengths))
        total += longest * max(0, expected - found - expected // 1000)
    if total > TEXT_IN_CELLS_BYTES_MOST:
        archive.refuse("long_text")


def _text_lengths(archive: Archive, text_part: str) -> Iterator[list[int]]:
    """Measure the shared texts from each end to the next, a stretch of the part at a time."""
    offset = last = 0
    carried = b""
    for chunk in archive.chunks(text_part):
        piece = carried + chunk
        ends = [offset + match.end() for match in _TEXT_END.finditer(piece)]
        ends = [end for end in ends if end > last]
        yield [end - begin for begin, end in pairwise([last, *ends])]
        last = ends[-1] if ends else last
        carried = piece[-_TEXT_END_BYTES:]
        offset += len(piece) - len(carried)
    yield [offset + len(carried) - last]


CONTENT = "content.xml"
_COVERED = "table:covered-table-cell"
_CELLS = ("table:table-cell", _COVERED)
_COUNT_DIGITS = 12


def check_ods_extents(archive: Archive) -> None:
    """Refuse an .ods file whose repeats span more than the reader can lay out.

    Raises
    ------
    IntakeError
        A sheet spans too many columns or cells, or text is repeated too often.
    """
    part = archive.parts.get(CONTENT)
    if part is not None and part.file_size > ODS_BYTES_MOST:
        archive.refuse("unpacks_over", "save_as", most=ODS_BYTES_MOST // MIB)
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
        if self.depth > DEPTH_MOST:
            self.archive.refuse("too_deep")
        if tag == "table:table":
            self._new_sheet()
        elif tag == "table:table-row":
            self._new_row(_count(attributes.get("table:number-rows-repeated")))
        elif tag in _CELLS:
            self._new_cell(_count(attributes.get("table:number-columns-repeated")))
            self.is_filled = any(name.startswith("office:") for name in attributes)
        elif tag == "text:s":
            self.spaces += _count(attributes.get("text:c"))
            if self.spaces > SPACES_MOST:
                self.archive.refuse("spaces")
        elif tag == "text:p":
            self.is_filled = True

    def text(self, text: str) -> None:
        self.letters += len(text) * self.cell_repeat * self.row_repeat
        if self.letters > TEXT_IN_CELLS_BYTES_MOST:
            self.archive.refuse("long_text")

    def _count_repeats(self) -> None:
        self.repeated += self.cell_repeat * self.row_repeat - 1
        if self.repeated > REPEATED_CELLS_MOST:
            self.archive.refuse("repeats")

    def end(self, tag: str) -> None:
        self.depth -= 1
        if tag == _COVERED and self.is_filled:
            refuse_covered(self.archive, column_letters(self.width + 1), self.height + 1)
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
    if not text or not text.isdecimal():
        return 1
    # the reader takes a count that no sheet can have for that of all rows
    return int(text) if len(text) <= _COUNT_DIGITS else 10**_COUNT_DIGITS
