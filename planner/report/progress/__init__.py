"""How a year that runs is doing: a page for the officer, half a page for a committee."""

from planner.report.progress.making import write_progress
from planner.report.progress.reading import Field, read_field

__all__ = ["Field", "read_field", "write_progress"]
