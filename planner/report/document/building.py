"""The whole report, section by section."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from planner.report.document.account import emissions, money
from planner.report.document.appendix import factors, method, records
from planner.report.document.cautions import cautions, recommendations
from planner.report.document.chain import chain
from planner.report.document.contents import Contents
from planner.report.document.details import details
from planner.report.document.earlier import earlier
from planner.report.document.glossary import glossary
from planner.report.document.model import Document
from planner.report.document.results import areas, results
from planner.report.document.summary import summary
from planner.report.document.sureness import sureness

if TYPE_CHECKING:
    from collections.abc import Callable

    from planner.report.document.model import Section
    from planner.report.wording import Wording


PAPER: dict[str, Callable[[Contents], Section | None]] = {
    "summary": summary,
    "results": results,
    "areas": areas,
    "chain": chain,
    "emissions": emissions,
    "money": money,
    "sureness": sureness,
    "earlier": earlier,
    "recommendations": recommendations,
    "cautions": cautions,
    "glossary": glossary,
}
"""What makes each section of the main paper, in order; the first stands alone as the brief."""

APPENDICES: dict[str, Callable[[Contents], Section | None]] = {
    "details": details,
    "method": method,
    "factors": factors,
    "records": records,
}
"""What makes each appendix, in order."""

BRIEF_KEYS = ("summary",)
PAPER_KEYS, APPENDIX_KEYS = tuple(PAPER), tuple(APPENDICES)
SECTION_KEYS = (*PAPER_KEYS, *APPENDIX_KEYS)

OF_RUNNING = "The year is still running: figures go to {day}, targets are the whole year's."


def build_document(contents: Contents) -> Document:
    """Say everything, once, for every renderer.

    Parameters
    ----------
    contents
        The register, the program file, the list of records and the charts.
    """
    found = (make(contents) for make in (PAPER | APPENDICES).values())
    register, wording = contents.register, contents.saying.wording
    written_at = contents.quality.newest
    return Document(
        title=f"Worm bins in {register.reporting_year}",
        subtitle=_subtitle(contents),
        council=register.council,
        reporting_year=register.reporting_year,
        version=register.version,
        language=_language(wording),
        written_at=written_at,
        written_on=wording.day(written_at.date()),
        sections=tuple(section for section in found if section is not None),
    )


def _subtitle(contents: Contents) -> str:
    through, issue = contents.register.through_date, contents.issue
    wording = contents.saying.wording
    state = "Draft, not issued"
    if issue is not None:
        day = wording.day(dt.date.fromisoformat(issue.issued_on))
        state = f"Issue {issue.number} of {day}"
    if not through:
        return f"Year-end report for {contents.label}. {state}."
    day = wording.day(dt.date.fromisoformat(through))
    return f"Report for {contents.label} so far. {OF_RUNNING.format(day=day)} {state}."


def _language(wording: Wording) -> str:
    """Name the language of the text: English as the country writes it, or as in Britain."""
    is_english = wording.locale.language == "en"
    return str(wording.locale).replace("_", "-") if is_english else "en-GB"
