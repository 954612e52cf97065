"""Charts: one message each, as PNG and SVG, with the message in the title and in words."""

from planner.report.charts.charts import Chart, month_chart_png, write_charts

__all__ = ["Chart", "month_chart_png", "write_charts"]
