"""The workbook's file, byte for byte the same for the same content."""

from __future__ import annotations

import io
import re
import zipfile
from typing import TYPE_CHECKING
from xml.sax.saxutils import quoteattr

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Mapping

    from openpyxl import Workbook

CORE = "docProps/core.xml"
APPLICATION = "docProps/app.xml"
DRAWING = "xl/drawings/drawing1.xml"
EARLIEST_YEAR = 1980
"""A zip file cannot carry an earlier date."""

READ_WRITE = 0o600 << 16

FORMULA = re.compile(r'(<c r="([A-Z]+[0-9]+)"[^>]*><f>[^<]*</f>)<v ?(?:/>|></v>)')


def workbook_bytes(
    workbook: Workbook,
    written_at: dt.datetime,
    picture_words: str,
    formula_values: Mapping[str, Mapping[str, float]] | None = None,
) -> bytes:
    """Serialise a workbook with fixed dates and its picture described.

    openpyxl stamps the file with the clock, calls every picture "Picture" and leaves
    formulas without the value that programs show which do not reckon, as mail previews;
    all three are put right here.

    Parameters
    ----------
    workbook
        What is written.
    written_at
        Stands for the time of writing.
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
    first, last = io.BytesIO(), io.BytesIO()
    workbook.save(first)
    stamp = max(written_at.timetuple()[:6], (EARLIEST_YEAR, 1, 1, 0, 0, 0))
    with zipfile.ZipFile(first) as source, zipfile.ZipFile(last, "w") as target:
        for entry in source.infolist():
            fixed = zipfile.ZipInfo(entry.filename, stamp)
            fixed.compress_type = zipfile.ZIP_DEFLATED
            fixed.external_attr = READ_WRITE
            fixed.create_system = 0
            content = source.read(entry)
            content = _with_values(content, values.get(entry.filename, {}))
            target.writestr(fixed, _mended(entry.filename, content, written_at, picture_words))
    return last.getvalue()


def _with_values(content: bytes, values: Mapping[str, float]) -> bytes:
    """Put the value of each formula beside it."""
    if not values:
        return content
    return FORMULA.sub(
        lambda match: f"{match[1]}<v>{values[match[2]]!r}</v>", content.decode()
    ).encode()


def _mended(name: str, content: bytes, written_at: dt.datetime, picture_words: str) -> bytes:
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
