"""From bins given to tonnes kept out of landfill: what is lost at each step, and why."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.report.document import Section
from planner.report.document.contents import INTERVAL, figure_table, parts_table
from planner.report.document.saying import section, table, text
from planner.report.figures.chain import CAUTIONS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.report.document import Block, Table
    from planner.report.document.contents import Contents

AGES = (3, 6, 12, 24, 36)


def chain_details(contents: Contents) -> tuple[Block, ...]:
    """Set out retention by age, former routes and the answers behind them."""
    found = (_retention, _routes, _recall, _composters)
    return tuple(block for blocks in found for block in blocks(contents))


def chain(contents: Contents) -> Section:
    """Say how bins given become tonnes kept out of landfill."""
    return section(
        "chain",
        "report.chain.heading",
        text("report.chain.only", contents.saying.say("report.chain.elsewhere")),
        *_steps(contents),
        *contents.pictures("chain"),
    )


def _steps(contents: Contents) -> Iterator[Block]:
    steps = contents.figures("gross_to_net")
    if not steps:
        return
    saying = contents.saying
    rows = [
        (
            f"report.step.{step}",
            *saying.cells(f"gross_to_net[{step}]"),
            saying.cell(f"gross_to_net_share[{step}]"),
        )
        for step in steps
    ]
    if saying.knows("gross_claim_t"):
        yield text(saying.say("report.chain.claim"), "report.chain.rule")
    headings = ("report.chain.step", "t", INTERVAL, "report.chain.share_before")
    yield table("gross_to_net", "report.chain.caption", headings, rows, numbers=(1, 2, 3))


def _retention(contents: Contents) -> Iterator[Block]:
    saying = contents.saying
    ages = [age for age in AGES if saying.knows(f"retention_by_age[{age}]")]
    if ages:
        rows, note = {str(age): str(age) for age in ages}, "report.chain.projection"
        caption, heading = "report.chain.retention", "report.chain.months_after"
        yield parts_table(contents, "retention", caption, heading, rows, note=note)
    if saying.knows("retention_curve_gap"):
        yield text(saying.say("report.chain.curve_gap"))


def _routes(contents: Contents) -> Iterator[Table]:
    if contents.figures("prior_route_share"):
        headings = ("report.chain.route", "report.chain.share", INTERVAL, "")
        yield figure_table(contents, "routes", "report.chain.routes", headings=headings)


def _recall(contents: Contents) -> Iterator[Block]:
    """Say how much of the baseline was asked too late, and what was done about it."""
    saying = contents.saying
    share = "baseline_recalled_share"
    if saying.knows(share, "recall_difference") and saying.value(share) > 0.0:
        yield text(saying.say("report.chain.recall"))


def _composters(contents: Contents) -> Iterator[Block]:
    """Keep households that already composted apart from the others, where they are told of."""
    habits = ("already_composted", "did_not_compost")
    ids = [f"landfill_share_by_habit[{habit}]" for habit in habits]
    if not contents.saying.knows("already_composting_share", *ids):
        return
    yield text(contents.saying.say("report.chain.habit"))
    yield figure_table(contents, "composters", "report.chain.composters")


def castings(contents: Contents) -> tuple[Block, ...]:
    """Say what castings the worms made; nothing where no figure says."""
    if "castings_t" not in contents.register:
        return ()
    return (
        text("report.castings.lead"),
        figure_table(contents, "castings", "report.castings.caption"),
        *(text(key, kind="caution") for key in CAUTIONS),
    )
