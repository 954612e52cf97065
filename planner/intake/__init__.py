"""Intake: the officer's spreadsheets become checked rows, and refusals with their place."""

from planner.intake.control import AMOUNTS, amounts_of, totals_frame
from planner.intake.passed_over import keep_filled_workbook
from planner.intake.problems import faults, write_refused
from planner.intake.reading import FileIntake, read_files
from planner.intake.readings import Proposal
from planner.intake.refused_copy import COPIED_ROWS, Refused, origins, write_refused_copy
from planner.intake.rows import Rows
from planner.intake.template import write_intake_workbook
from planner.intake.wording import said

__all__ = [
    "AMOUNTS",
    "COPIED_ROWS",
    "FileIntake",
    "Proposal",
    "Refused",
    "Rows",
    "amounts_of",
    "faults",
    "keep_filled_workbook",
    "origins",
    "read_files",
    "said",
    "totals_frame",
    "write_intake_workbook",
    "write_refused",
    "write_refused_copy",
]
