"""How sure we are, and why: what the intervals hold, what was checked, what they do not hold."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.messages import said
from planner.report.charts.rows import source_words
from planner.report.document import Section
from planner.report.document.contents import figure_table, parts_table
from planner.report.document.saying import audit_agrees, audit_is_small, table, text
from planner.report.figures.retention import HEADLINES

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.report.document import Block, Statement
    from planner.report.document.contents import Contents

OF_INTERVALS = "report.sure.intervals"
NOT_IN_THEM = "report.sure.not_in_them"
AGREEMENT = {
    True: "report.sure.agree",
    False: "report.sure.differ",
}
DETECTABLE = "audit_detectable_food_kg_per_household_week"
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
    return Section("sureness", said("report.sure.heading"), tuple(blocks))


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
            "report.sure.drivers",
            "report.sure.source",
            {name: source_words(name) for name in ranked},
            note="report.sure.drivers_note",
        )


def _rounds(contents: Contents) -> Iterator[Block]:
    rounds = contents.figures("response_share")
    if rounds:
        yield text("report.sure.rounds_lead")
        waves = {wave: wave for wave in rounds}
        yield parts_table(contents, "rounds", "report.sure.rounds", "report.sure.round", waves)


def _calibration(contents: Contents) -> Iterator[Block]:
    found = figure_table(contents, "calibration", "report.sure.calibration")
    if found.rows:
        yield text("report.sure.calibration_lead")
        yield found
    yield from _diaries(contents)


def _diaries(contents: Contents) -> Iterator[Block]:
    """Say what the weighed weeks were used for, where they may be counted."""
    near, season = "diary_weeks[calibrate_reports]", "diary_weeks[season]"
    if contents.saying.knows(near, season):
        yield text(contents.saying.say("report.sure.diaries", near=near, season=season))


def _audit(contents: Contents) -> Iterator[Block]:
    agrees = audit_agrees(contents.saying)
    if agrees is None:
        yield text("report.sure.no_audit")
        return
    yield text(
        "report.sure.audit_lead",
        *_of_audit(contents, agrees=agrees),
    )


def _audit_table(contents: Contents) -> Iterator[Block]:
    if audit_agrees(contents.saying) is not None:
        yield figure_table(contents, "audit", "report.sure.audit")


def _of_audit(contents: Contents, *, agrees: bool) -> Iterator[Statement]:
    saying = contents.saying
    yield saying.say(AGREEMENT[agrees])
    if agrees and audit_is_small(saying):
        yield saying.say("report.sure.audit_small")
    if agrees and saying.knows(DETECTABLE):
        yield saying.say("report.sure.detectable")


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
        for name in HEADLINES
        if saying.knows(f"{name}_if_silent_stopped", f"{name}_if_silent_kept")
    ]
    if rows:
        yield text("report.sure.bounds_lead")
        yield table(
            "bounds",
            "report.sure.bounds",
            (
                "report.what",
                "report.sure.all_stopped",
                "report.sure.estimated",
                "report.sure.all_kept",
            ),
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
        "report.sure.likelier",
        ("report.what", *(said("report.sure.odds", odds=one) for one in odds)),
        [
            (
                contents.register[name].label,
                *(saying.cell(f"if_users_odds[{name}|{one}]") for one in odds),
            )
            for name in HEADLINES
            if saying.knows(f"if_users_odds[{name}|{odds[0]}]")
        ],
        numbers=tuple(range(1, 1 + len(odds))),
        note="report.sure.likelier_note",
    )
    if saying.knows("users_odds_at_target"):
        yield text(saying.say("report.sure.odds_at_target"))


def _records(contents: Contents) -> Iterator[Block]:
    quality = contents.quality
    wrong = quality.checks.filter(quality.checks["severity"] == "wrong").height
    words = ["report.sure.files"]
    if quality.refusals.height:
        words.append("report.sure.refused")
    if wrong:
        words.append("report.sure.contradict")
    yield text(*words)
