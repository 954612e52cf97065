"""The report: what is said, and the workbook, charts and register that say it."""
