"""Zip files, as those of office programs, byte for byte the same for the same content."""

from __future__ import annotations

import io
import zipfile
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable

EARLIEST_YEAR = 1980
"""A zip file cannot carry an earlier date."""

READ_WRITE = 0o600 << 16


def _unchanged(name: str, content: bytes) -> bytes:
    del name
    return content


def restamped(
    archive: bytes,
    written_at: dt.datetime,
    change: Callable[[str, bytes], bytes] = _unchanged,
) -> bytes:
    """Write an archive again with one time for every part, and nothing of the machine.

    Parameters
    ----------
    archive
        A zip file.
    written_at
        Stands for the time of writing.
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
