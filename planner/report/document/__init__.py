"""What the year-end report says, once; the Word document and the page only set it."""

from planner.report.document.building import (
    APPENDIX_KEYS,
    BRIEF_KEYS,
    PAPER_KEYS,
    SECTION_KEYS,
    build_document,
)
from planner.report.document.contents import Contents
from planner.report.document.model import (
    Column,
    Document,
    Paragraph,
    Picture,
    Section,
    Shown,
    Statement,
    Table,
)

__all__ = [
    "APPENDIX_KEYS",
    "BRIEF_KEYS",
    "PAPER_KEYS",
    "SECTION_KEYS",
    "Column",
    "Contents",
    "Document",
    "Paragraph",
    "Picture",
    "Section",
    "Shown",
    "Statement",
    "Table",
    "build_document",
]
