"""How sure we are, and why: what the intervals hold, what was checked, what they do not hold."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.report.charts.rows import SOURCES
from planner.report.document.judging import GAP, audit_agrees, audit_is_small
from planner.report.document.model import Section
from planner.report.document.saying import table, text
from planner.report.document.tables import figure_table, parts_table
from planner.report.figures.retention import BOUNDED

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.report.document.contents import Contents
    from planner.report.document.model import Block, Statement

OF_INTERVALS = (
    "A likely range (95% interval) covers two things: the luck of which households were asked and "
    "answered, and the published range of each factor."
)
NOT_IN_THEM = (
    "No range covers an error that every answer shares: reporting more than was fed, or answering "
    "more readily while the bin is in use. Only asking the homes that stayed silent can settle "
    "that; an appendix shows how much it could matter."
)
AGREEMENT = {
    True: "Audit and survey agree: the difference between them could be zero, {gap}.",
    False: "Audit and survey do not agree: the difference between them is more than chance, "
    "{gap}. Find the cause before you use the figures.",
}
MOST_DRIVERS = 10


def sureness_details(contents: Contents) -> tuple[Block, ...]:
    """Set out drivers, survey rounds, calibration, audit and odds."""
    found = (_drivers, _rounds, _calibration, _audit_table, _likelier)
    return tuple(block for blocks in found for block in blocks(contents))


def sureness(contents: Contents) -> Section:
    """Say how sure the figures are."""
    blocks: list[Block] = [
        text(OF_INTERVALS),
        *_audit(contents),
        *_bounds(contents),
        *contents.pictures("sureness"),
        text(NOT_IN_THEM),
        *_records(contents),
    ]
    return Section("sureness", "How sure we are, and why", tuple(blocks))


def _drivers(contents: Contents) -> Iterator[Block]:
    shares = {
        name: part.value
        for name, part in contents.figures("variance_share").items()
        if part.value is not None
    }
    ranked = sorted(shares, key=lambda name: (-shares[name], name))[:MOST_DRIVERS]
    if ranked:
        yield parts_table(
            contents,
            "drivers",
            "What makes emissions avoided over 100 years uncertain",
            "Source of uncertainty",
            {name: _source(name) for name in ranked},
            note="The largest sources. The survey line covers all that was asked and weighed here.",
        )


def _source(name: str) -> str:
    """Name a source of doubt as its chart does."""
    return SOURCES.get(name, name.replace("_", " "))


def _rounds(contents: Contents) -> Iterator[Block]:
    rounds = contents.figures("response_share")
    if rounds:
        yield text(
            "Each follow-up survey compares what households fed with what the model gives for that "
            "time; 1 is full agreement. The model is then scaled to match each survey."
        )
        waves = {wave: wave for wave in rounds}
        yield parts_table(contents, "rounds", "Survey rounds", "Round", waves)


def _calibration(contents: Contents) -> Iterator[Block]:
    found = figure_table(contents, "calibration", "What a reported amount weighs")
    if found.rows:
        yield text(
            "Households estimate what they fed, in kilograms or litres. Those that weigh their "
            "scraps show what a reported amount weighs; without enough of them a published range "
            "is used."
        )
        yield found
    yield from _diaries(contents)


def _diaries(contents: Contents) -> Iterator[Block]:
    """Say what the weighed weeks were used for, where they may be counted."""
    near, season = "diary_weeks[calibrate_reports]", "diary_weeks[season]"
    if contents.saying.knows(near, season):
        yield text(
            contents.saying.say(
                f"{{{near}:amount}} were weighed near an answer and show what reports weigh; "
                f"{{{season}:amount}}, some of them the same, show the season."
            )
        )


def _audit(contents: Contents) -> Iterator[Block]:
    agrees = audit_agrees(contents.saying)
    if agrees is None:
        yield text("There is no audit of waste bins to compare with the survey yet.")
        return
    yield text(
        "Waste bins were opened and their food weighed, before and after the giveaway, in "
        "streets with worm bins and in streets without. The change should match what the survey "
        "says.",
        _of_audit(contents, agrees=agrees),
    )


def _audit_table(contents: Contents) -> Iterator[Block]:
    if audit_agrees(contents.saying) is not None:
        yield figure_table(contents, "audit", "Audit and survey compared")


def _of_audit(contents: Contents, *, agrees: bool) -> Statement:
    detectable = "audit_detectable_food_kg_per_household_week"
    words = AGREEMENT[agrees].replace("{gap}", f"{{{GAP}}}")
    if agrees and audit_is_small(contents.saying):
        words += " But the audited change could be zero too: the audit is too small to prove much."
    if agrees and contents.saying.knows(detectable):
        words += (
            f" The smallest change that this audit could have found is {{{detectable}:amount}}."
        )
    return contents.saying.say(words)


def _bounds(contents: Contents) -> Iterator[Block]:
    """Set out the worst and best cases for those who did not answer, where they are there."""
    saying = contents.saying
    rows = [
        (
            contents.register[name].label,
            saying.cell(f"{name}_if_silent_stopped"),
            saying.cell(name),
            saying.cell(f"{name}_if_silent_kept"),
        )
        for name in BOUNDED
        if saying.knows(f"{name}_if_silent_stopped", f"{name}_if_silent_kept")
    ]
    if rows:
        yield text(
            "Nobody knows what the homes that did not answer would have said. The table shows the "
            "results if all of them had stopped, and if all had carried on. The truth lies "
            "between, give or take sampling error."
        )
        yield table(
            "bounds",
            "Worst and best case for homes that did not answer",
            ("What", "If all had stopped", "Estimated", "If all had carried on"),
            rows,
            numbers=(1, 2, 3),
        )


def _likelier(contents: Contents) -> Iterator[Block]:
    """Set out what the results would be if users answered likelier than others like them."""
    saying = contents.saying
    odds = list(dict.fromkeys(n.split("|")[1] for n in contents.figures("if_users_odds")))
    if not odds:
        return
    yield table(
        "likelier",
        "If users answer more readily than others like them",
        ("What", *(f"odds {one}" for one in odds)),
        [
            (
                contents.register[name].label,
                *(saying.cell(f"if_users_odds[{name}|{one}]") for one in odds),
            )
            for name in BOUNDED
            if saying.knows(f"if_users_odds[{name}|{odds[0]}]")
        ],
        numbers=tuple(range(1, 1 + len(odds))),
        note="Odds of answering for homes that use their bin, against other homes like them.",
    )
    if saying.knows("users_odds_at_target"):
        yield text(
            saying.say(
                "At odds of {users_odds_at_target:number} or more the target would be missed."
            )
        )


def _records(contents: Contents) -> Iterator[Block]:
    quality = contents.quality
    wrong = quality.checks.filter(quality.checks["severity"] == "wrong").height
    words = ["The appendices list the files behind the figures."]
    if quality.refusals.height:
        words.append("Some rows were refused on loading and are not fixed yet; they do not count.")
    if wrong:
        words.append(
            "Some records contradict each other; the workbook's page of data quality lists them."
        )
    yield text(*words)
