"""The whole report, section by section."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from planner.messages import said
from planner.report.document import Document, Section
from planner.report.document.account import (
    account_details,
    emissions,
    ledger,
    money,
    present_value,
    to_decide,
)
from planner.report.document.advice import advice
from planner.report.document.appendix import factors, method, records
from planner.report.document.chain import castings, chain, chain_details
from planner.report.document.contents import Contents
from planner.report.document.earlier import changes, earlier, restatements
from planner.report.document.results import areas, months_table, problems_by_supply, results
from planner.report.document.saying import section, table, text
from planner.report.document.summary import summary
from planner.report.document.sureness import sureness, sureness_details

if TYPE_CHECKING:
    from collections.abc import Callable

    from planner.report.document import Block

CARE = ("dust", "liquid", "lifting", "worms")


def recommendations(contents: Contents) -> Section:
    """Say what the results call for next year."""
    rows = [(one.short, one.reason, one.rule) for one in advice(contents)]
    key, caption = "recommendations", "report.advice.caption"
    if not rows:
        return section(key, "report.advice.heading_none", text("report.advice.none"))
    headings = ("report.advice.what", "report.why", "report.advice.when")
    advised = table(key, caption, headings, rows)
    return section(key, "report.advice.heading", text("report.advice.lead"), advised)


def cautions(_: Contents) -> Section:
    """Warn of what can hurt."""
    warned = (text(f"report.care.{one}", kind="caution") for one in CARE)
    return section("cautions", "report.care.heading", *warned, text("report.care.defer"))


GLOSSARY = "audit castings co2 avoided gate_fee kept_out levy range net_cost residual"


def glossary(_: Contents) -> Section:
    """Explain the words of the trade that the report cannot do without."""
    rows = [(f"report.word.{word}", f"report.word.{word}.means") for word in GLOSSARY.split()]
    headings = ("report.glossary.word", "report.glossary.meaning")
    words = table("glossary", "report.glossary.caption", headings, rows)
    return section("glossary", "report.glossary.heading", words)


def details(contents: Contents) -> Section:
    """Gather what a reader may look up and a councillor need not read."""
    over_life = (ledger(contents), *present_value(contents), *to_decide(contents))
    parts: tuple[tuple[str, str, tuple[Block, ...]], ...] = (
        ("by_month", "appendix.by_month", (months_table(contents), *contents.pictures("details"))),
        ("by_step", "appendix.by_step", chain_details(contents)),
        ("castings", "report.word.castings", castings(contents)),
        ("supplied", "appendix.supplied", problems_by_supply(contents)),
        ("by_source", "appendix.by_source", tuple(account_details(contents))),
        ("over_life", "appendix.over_life", over_life),
        ("by_doubt", "appendix.by_doubt", sureness_details(contents)),
        ("by_year", "appendix.by_year", (*changes(contents), *restatements(contents))),
    )
    found = (section(key, heading, *blocks) for key, heading, blocks in parts if blocks)
    return section("details", "appendix.details", parts=found)


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


def build_document(contents: Contents) -> Document:
    """Say everything, once, for every renderer."""
    found = (make(contents) for make in (PAPER | APPENDICES).values())
    register, year = contents.register, contents.register.reporting_year
    return Document.of(
        said("report.title", year=year),
        _subtitle(contents),
        register.council,
        year,
        (section for section in found if section is not None),
        contents.saying.wording,
        contents.quality.newest,
    )


def _subtitle(contents: Contents) -> str:
    issue, say_day = contents.issue, contents.saying.wording.day
    state = said("report.draft")
    if issue is not None:
        day = say_day(dt.date.fromisoformat(issue.issued_on))
        state = said("report.issue", number=issue.number, day=day)
    if not contents.is_running:
        return said("report.subtitle", year=contents.label, state=state)
    day = say_day(dt.date.fromisoformat(contents.register.through_date))
    running = said("report.of_running", day=day)
    return said("report.subtitle_so_far", year=contents.label, running=running, state=state)
