"""Appendix: the tables that support the main paper."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.report.document.account import (
    account_details,
    ledger,
    present_value,
    to_decide,
)
from planner.report.document.chain import castings, chain_details
from planner.report.document.earlier import changes, restatements
from planner.report.document.model import Section
from planner.report.document.results import months_table
from planner.report.document.sureness import sureness_details

if TYPE_CHECKING:
    from planner.report.document.contents import Contents
    from planner.report.document.model import Block


def details(contents: Contents) -> Section:
    """Gather what a reader may look up and a councillor need not read."""
    parts: tuple[tuple[str, str, tuple[Block, ...]], ...] = (
        ("by_month", "The year by month", (months_table(contents), *contents.pictures("details"))),
        ("by_step", "Bins in use and where scraps went before", chain_details(contents)),
        ("castings", "Castings", castings(contents)),
        ("by_source", "Emissions by source", tuple(account_details(contents))),
        (
            "over_life",
            "Money in detail",
            (ledger(contents), *present_value(contents), *to_decide(contents)),
        ),
        ("by_doubt", "What the ranges rest on", sureness_details(contents)),
        ("by_year", "Earlier years in detail", (*changes(contents), *restatements(contents))),
    )
    found = tuple(Section(key, heading, blocks) for key, heading, blocks in parts if blocks)
    return Section("details", "Appendix: further tables", (), found)
