"""Files of workbooks: the same bytes for the same content, lists to fill in, and plain records."""

from __future__ import annotations

import datetime as dt
import io
import re
import zipfile
from typing import TYPE_CHECKING, Protocol
from xml.sax.saxutils import quoteattr

import polars as pl
from openpyxl import Workbook
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.writer.excel import ExcelWriter

from planner.cells import put_record, writable_text

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from openpyxl.worksheet.worksheet import Worksheet


CORE = "docProps/core.xml"
APPLICATION = "docProps/app.xml"
DRAWING = "xl/drawings/drawing1.xml"
FORMULA = re.compile(r'(<c r="([A-Z]+[0-9]+)"[^>]*><f>[^<]*</f>)<v ?(?:/>|></v>)')

WIDEST_RECORD = 40
"""Most width of a column of records, in characters."""

PAGE_CHARACTERS = 175
"""Most width of columns on a landscape page, in characters: below that print is too small."""

LONGEST_SHEET_NAME = 31
_NOT_IN_SHEET_NAMES = re.compile(r"[\[\]:*?/\\']")


def workbook_bytes(
    workbook: Workbook,
    written_at: dt.datetime,
    picture_words: str = "",
    formula_values: Mapping[str, Mapping[str, float]] | None = None,
) -> bytes:
    """Serialise a workbook with fixed dates and its picture described.

    openpyxl stamps the file with the clock, calls every picture "Picture" and leaves
    formulas without the value that programs show which do not calculate, as mail previews;
    all three are put right here.

    Parameters
    ----------
    picture_words
        Description of the one picture, for those who hear it read.
    formula_values
        For the name of a sheet, what each cell with a formula comes to.
    """
    values = {
        f"xl/worksheets/sheet{place}.xml": (formula_values or {}).get(sheet.title, {})
        for place, sheet in enumerate(workbook.worksheets, start=1)
    }

    workbook.properties.created = written_at
    saved = io.BytesIO()
    # packed once, when its parts are as they shall be
    ExcelWriter(workbook, zipfile.ZipFile(saved, "w", zipfile.ZIP_STORED)).save()
    return restamped(
        saved.getvalue(),
        written_at,
        lambda name, content: _redated(
            name, _with_values(content, values.get(name, {})), written_at, picture_words
        ),
    )


class _Saved(Protocol):
    """Workbooks and documents alike are saved into a stream."""

    def save(self, out: io.BytesIO, /) -> None:
        """Write all of it."""


def file_bytes(document: _Saved) -> bytes:
    """Give the bytes of a workbook or a document as it would be saved now."""
    out = io.BytesIO()
    document.save(out)
    return out.getvalue()


def _with_values(content: bytes, values: Mapping[str, float]) -> bytes:
    """Put the value of each formula beside it."""
    if not values:
        return content
    return FORMULA.sub(
        lambda match: f"{match[1]}<v>{values[match[2]]!r}</v>", content.decode()
    ).encode()


def _redated(name: str, content: bytes, written_at: dt.datetime, picture_words: str) -> bytes:
    if name == CORE:
        return _replaced(
            r"(<dcterms:modified[^>]*>)[^<]*", f"{written_at:%Y-%m-%dT%H:%M:%SZ}", content
        )
    if name == APPLICATION:
        return _replaced(r"(<Application>)[^<]*", "planner", content)
    if name == DRAWING:
        return content.replace(b'descr="Picture"', f"descr={quoteattr(picture_words)}".encode())
    return content


def _replaced(pattern: str, words: str, content: bytes) -> bytes:
    return re.sub(pattern, lambda match: f"{match[1]}{words}", content.decode()).encode()


def records_workbook(sheets: Mapping[str, pl.DataFrame], note: str = "") -> Workbook:
    """Make a workbook of records: column names for headings, values as they are stored."""
    book = Workbook()
    book.remove(book.worksheets[0])
    for name, rows in sheets.items():
        _add_records(book.create_sheet(name), rows, note)
    return book


def _add_records(sheet: Worksheet, rows: pl.DataFrame, note: str) -> None:
    heading_row = 2 if note else 1
    if note:
        put_record(sheet.cell(1, 1), note)
        sheet.cell(1, 1).alignment = Alignment(vertical="top")
    for place, name in enumerate(rows.columns, start=1):
        put_record(sheet.cell(heading_row, place), name)
        sheet.cell(heading_row, place).font = Font(bold=True)
        lengths = rows[name].cast(pl.String).fill_null("").str.len_chars().unique()
        width = min(WIDEST_RECORD, max([len(name), *lengths]) + 3)
        sheet.column_dimensions[get_column_letter(place)].width = width
    for number, row in enumerate(rows.iter_rows(), start=heading_row + 1):
        for place, content in enumerate(row, start=1):
            put_record(sheet.cell(number, place), content)
            if isinstance(content, str) and len(content) > WIDEST_RECORD:
                sheet.cell(number, place).alignment = Alignment(wrap_text=True, vertical="top")
    set_landscape(sheet, heading_row)
    set_pages_across(sheet)


INK, LEAF = "263238", "DDE5D3"
"""Colours of text and of headings."""

THIN = Side("thin", color="B8B8B0")
_LINE_HEIGHT, _CHARACTERS_PER_WIDTH = 15.5, 0.82


def dress_list(
    sheet: Worksheet, widths: Mapping[str, float], sentence: str, rows_count: int
) -> None:
    """Set a list of `records_workbook` with a note so that it can be printed and filled in.

    Parameters
    ----------
    widths
        Of each column, in order.
    sentence
        Column of the longest texts, which makes rows high.
    """
    names = list(widths)
    line_length = widths[sentence] * _CHARACTERS_PER_WIDTH
    for place, name in enumerate(names, start=1):
        sheet.column_dimensions[get_column_letter(place)].width = widths[name]
        head = sheet.cell(2, place)
        head.fill = PatternFill("solid", start_color=LEAF)
        head.alignment = Alignment(wrap_text=True, vertical="bottom")
    sheet.row_dimensions[2].height = 2 * _LINE_HEIGHT
    for number in range(3, rows_count + 3):
        text = str(sheet.cell(number, names.index(sentence) + 1).value)
        sheet.row_dimensions[number].height = max(2, -(-len(text) // line_length)) * _LINE_HEIGHT
        for place in range(1, len(names) + 1):
            cell = sheet.cell(number, place)
            cell.alignment = Alignment(horizontal="left", vertical="center", wrap_text=True)
            cell.font, cell.border = Font(size=12), Border(bottom=THIN)
    set_pages_across(sheet)


def offer(sheet: Worksheet, place: int, rows: range, choices: Sequence[str], error: str) -> None:
    """Offer words to choose from in the rows of a column, and say so where another is written."""
    letter = get_column_letter(place)
    check = DataValidation("list", formula1=f'"{",".join(choices)}"', allow_blank=True)
    check.error, check.showErrorMessage = error, True
    check.add(f"{letter}{rows.start}:{letter}{max(rows.start, rows.stop - 1)}")
    sheet.add_data_validation(check)


def set_pages_across(sheet: Worksheet) -> None:
    """Print a list too wide to be read on one page over several, two columns on each of them."""
    columns = [one for one in sheet.column_dimensions.values() if not one.hidden]
    wide = -(-int(sum(one.width for one in columns)) // PAGE_CHARACTERS)
    sheet.page_setup.fitToWidth = wide
    sheet.print_title_cols = "A:B" if wide > 1 else None


def set_landscape(sheet: Worksheet, heading_row: int) -> None:
    """Print a list on landscape pages, as wide as one, its headings on each."""
    sheet.freeze_panes = f"A{heading_row + 1}"
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.paperSize = sheet.PAPERSIZE_A4
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    sheet.print_title_rows = f"{heading_row}:{heading_row}"


def sheet_name(wanted: str, taken: set[str]) -> str:
    """Name of a sheet that a spreadsheet program takes, none twice.

    Examples
    --------
    >>> sheet_name("Farm: A/B", set()), sheet_name("Farm", {"farm"})
    ('Farm A B', 'Farm 2')
    """
    clean = " ".join(_NOT_IN_SHEET_NAMES.sub(" ", writable_text(wanted)).split()) or "Sheet"
    name, number = clean[:LONGEST_SHEET_NAME], 1
    while name.casefold() in taken:
        number += 1
        name = f"{clean[: LONGEST_SHEET_NAME - len(str(number)) - 1]} {number}"
    taken.add(name.casefold())
    return name


EARLIEST_YEAR = 1980
"""A zip file cannot carry an earlier date."""

READ_WRITE = 0o600 << 16


def restamped(
    archive: bytes,
    written_at: dt.datetime,
    change: Callable[[str, bytes], bytes] = lambda _, content: content,
) -> bytes:
    """Write an archive again with one time for every part, and nothing of the machine.

    Parameters
    ----------
    change
        Gives the new content of a part from its name and content.
    """
    stamp = max(written_at.timetuple()[:6], (EARLIEST_YEAR, 1, 1, 0, 0, 0))
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(archive)) as source, zipfile.ZipFile(out, "w") as target:
        for entry in source.infolist():
            fixed = zipfile.ZipInfo(entry.filename, stamp)
            fixed.compress_type = zipfile.ZIP_DEFLATED
            fixed.external_attr = READ_WRITE
            fixed.create_system = 0
            target.writestr(fixed, change(entry.filename, source.read(entry)))
    return out.getvalue()
