"""Web pages: the whole report, and the guide, each in one file that needs no network."""

from planner.report.page.writing import write_guide, write_page

__all__ = ["write_guide", "write_page"]
