"""The Word document: the report set into a template that a council can replace."""

from planner.report.word.placeholders import (
    OWN_TEMPLATE,
    PAPER_TEMPLATE,
    PART_TEMPLATE,
    check_template,
    copy_template,
    open_template,
)
from planner.report.word.writing import write_parts, write_word

__all__ = [
    "OWN_TEMPLATE",
    "PAPER_TEMPLATE",
    "PART_TEMPLATE",
    "check_template",
    "copy_template",
    "open_template",
    "write_parts",
    "write_word",
]
