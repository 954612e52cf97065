"""Write the shipped Word templates anew: `python -m templates.maker`."""

from __future__ import annotations

from planner.report.sheet.making import LETTER_TEMPLATE, SHEET_TEMPLATE
from planner.report.word.placeholders import OWN_TEMPLATE, PAPER_TEMPLATE, PART_TEMPLATE
from templates.maker.report import paper_template, part_template, starting_template
from templates.maker.sheet import letter_template, sheet_template

if __name__ == "__main__":
    OWN_TEMPLATE.write_bytes(starting_template())
    PAPER_TEMPLATE.write_bytes(paper_template())
    PART_TEMPLATE.write_bytes(part_template())
    SHEET_TEMPLATE.write_bytes(sheet_template())
    LETTER_TEMPLATE.write_bytes(letter_template())
