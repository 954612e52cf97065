"""The year-end workbook: one sheet a module, real numbers in the cells, no macros."""

from planner.report.workbook.writing import write_workbook

__all__ = ["write_workbook"]
