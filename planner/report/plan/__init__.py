"""The plan in figures, workbook, charts and words."""

from planner.report.plan.folder import PlanFiles, write_plan
from planner.report.plan.words import decision_lines

__all__ = ["PlanFiles", "decision_lines", "write_plan"]
