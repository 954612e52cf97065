"""The web page: the whole report in one file that needs no network and no scripts."""

from planner.report.page.writing import write_page

__all__ = ["write_page"]
