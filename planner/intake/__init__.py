"""Intake: the officer's spreadsheets become checked rows, and refusals with their place."""

from planner.intake.messages import sentences, write_refused
from planner.intake.reading import FileIntake, read_files
from planner.intake.rows import Rows
from planner.intake.template import write_intake_workbook

__all__ = [
    "FileIntake",
    "Rows",
    "read_files",
    "sentences",
    "write_intake_workbook",
    "write_refused",
]
