"""The report: what is said, and the workbook, charts and register that say it.

What fails for what an officer gave, or for the disk, raises a `planner.errors.PlannerError` that
says what to fix, and leaves what was there; functions tell of it where they add to that.
"""
