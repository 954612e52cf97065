"""The order as it is written: summary, purchase orders, calendar, checklist, cautions."""

from planner.report.orders.clash_words import clash_lines
from planner.report.orders.folder import check_absent, write_order

__all__ = ["check_absent", "clash_lines", "write_order"]
