"""How a year that runs is doing: a page for the officer, half a page for a committee."""

from planner.report.progress.making import Field, read_field, write_progress

__all__ = ["Field", "read_field", "write_progress"]
