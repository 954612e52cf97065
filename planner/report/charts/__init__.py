"""Charts: one message each, as PNG and SVG, with the message in the title and in words."""

from planner.report.charts.charts import Chart, write_charts

__all__ = ["Chart", "write_charts"]
