"""Marks that keep a row of a copy refused until the officer has mended it."""

from __future__ import annotations

MOVED = "#MOVED"
"""Before the cells of a row whose cells have moved to the right."""

TWICE = "#TWICE"
"""Before a key that an earlier row of the same file has, with other values."""

UNCLEAR = " ?"
"""After a number that a text file and a workbook would read in two ways."""

MARKED_TEXT = rf"^(?:{MOVED}|{TWICE})\b"

MARK_ADVICE = {
    MOVED: "Write each value under its heading, and this one here.",
    TWICE: "Delete the row if it is the wrong one of the two; otherwise write its number or "
    "code here without the mark.",
}
"""What to do about each mark."""
