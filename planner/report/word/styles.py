"""Styles of a template by their purpose, with others in their place where it lacks them."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from docx.document import Document as WordFile

CHOICES = {
    "heading_1": ("Heading 1",),
    "heading_2": ("Heading 2",),
    "heading_3": ("Heading 3", "Heading 2"),
    "text": ("Body Text", "Normal"),
    "lead": ("Report Lead", "Body Text", "Normal"),
    "point": ("List Bullet", "List Paragraph", "Normal"),
    "caution": ("Report Caution", "Intense Quote", "Body Text", "Normal"),
    "caption": ("Caption", "Normal"),
    "note": ("Report Note", "Normal"),
    "cell": ("Report Cell", "Normal"),
    "number": ("Report Number", "Report Cell", "Normal"),
    "picture": ("Report Picture", "Normal"),
    "contents_1": ("toc 1", "TOC 1", "Normal"),
    "contents_2": ("toc 2", "TOC 2", "Normal"),
    "table": ("Report Table", "Table Grid", "Normal Table"),
}
"""Names of styles for each purpose, the first that is there is taken."""


def style_ids(word: WordFile) -> dict[str, str]:
    """Find the id of a style for each purpose; empty where a template has none of them."""
    by_name = {style.name: style.style_id for style in word.styles}
    return {
        purpose: next((by_name[name] for name in names if name in by_name), "")
        for purpose, names in CHOICES.items()
    }
