"""What a nursery of the council's own would take: figures and a workbook."""

from planner.report.breeding.figures import register_breeding
from planner.report.breeding.writing import NURSERY_FOLDER, write_breeding

__all__ = ["NURSERY_FOLDER", "register_breeding", "write_breeding"]
