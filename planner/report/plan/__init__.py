"""The plan in figures, workbook, charts and words."""
