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
    "A 95% interval holds two things: the chance of which households were drawn and answered, "
    "and the published range of each factor. Both run through every figure together, so sums "
    "and ratios keep what their parts share."
)
NOT_IN_THEM = (
    "An error that all households share is in no interval: reporting more than was fed, or "
    "answering more readily while the bin is in use, beyond all that was known of a household "
    "before. The table of odds shows what that would do; only asking the silent again tells."
)
AGREEMENT = {
    True: "Audit and survey agree: zero lies in the interval of their difference, {gap}.",
    False: "Audit and survey do not agree: zero lies outside the interval of their difference, "
    "{gap}. Seek the cause before the figures are used.",
}
MOST_DRIVERS = 10


def sureness(contents: Contents) -> Section:
    """Say how sure the figures are."""
    blocks: list[Block] = [
        text(OF_INTERVALS),
        *_drivers(contents),
        *_rounds(contents),
        *_calibration(contents),
        *_audit(contents),
        *_bounds(contents),
        *_likelier(contents),
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
            "What makes the interval of emissions avoided over 100 years wide",
            "Source of doubt",
            {name: _source(name) for name in ranked},
            note="The largest sources; the survey stands for all that was asked and weighed here.",
        )


def _source(name: str) -> str:
    """Name a source of doubt as its chart does."""
    return SOURCES.get(name, name.replace("_", " "))


def _rounds(contents: Contents) -> Iterator[Block]:
    rounds = contents.figures("response_share")
    if rounds:
        yield text(
            "In each follow-up round, what households fed is set beside what the model gives for "
            "that time; 1 is full agreement. The model is scaled to pass through each round."
        )
        waves = {wave: wave for wave in rounds}
        yield parts_table(contents, "rounds", "Survey rounds", "Round", waves)


def _calibration(contents: Contents) -> Iterator[Block]:
    found = figure_table(contents, "calibration", "What a reported amount weighs")
    if found.rows:
        yield text(
            "Households report kilograms or litres from memory. Those that keep a weighed diary "
            "show what a reported amount weighs; without enough diaries a published range stands "
            "in."
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
                f"{{{season}:amount}}, the same or others, tell of the season. planner check "
                "names each week that no answer is near."
            )
        )


def _audit(contents: Contents) -> Iterator[Block]:
    agrees = audit_agrees(contents.saying)
    if agrees is None:
        yield text("No audit of waste bins can be set beside the survey yet.")
        return
    yield text(
        "Waste bins were opened and their food weighed, before and after the giveaway, in "
        "streets with worm bins and in streets without. The change should match what the survey "
        "says.",
        _of_audit(contents, agrees=agrees),
    )
    yield figure_table(contents, "audit", "Audit beside survey")


def _of_audit(contents: Contents, *, agrees: bool) -> Statement:
    detectable = "audit_detectable_food_kg_per_household_week"
    words = AGREEMENT[agrees].replace("{gap}", f"{{{GAP}}}")
    if agrees and audit_is_small(contents.saying):
        words += " But zero lies in the interval of the audited change too: the audit is too small."
    if agrees and contents.saying.knows(detectable):
        words += f" The audit could have told apart a change of {{{detectable}:amount}} or more."
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
            "Nobody knows what those who did not answer would have said. If all of them had "
            "stopped, or all had kept on, the results would be these; the truth lies between, "
            "but for the error of sampling."
        )
        yield table(
            "bounds",
            "Bounds if those who did not answer differ",
            ("What", "If all had stopped", "As estimated", "If all had kept on"),
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
        "If users answer likelier than others like them",
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
        note="Odds of answering of those who use their bin, over those of others like them.",
    )
    if saying.knows("users_odds_at_target"):
        yield text(
            saying.say("The target would be missed from odds of {users_odds_at_target:number} on.")
        )


def _records(contents: Contents) -> Iterator[Block]:
    quality = contents.quality
    wrong = quality.checks.filter(quality.checks["severity"] == "wrong").height
    words = ["The files behind the figures are listed in the last appendix."]
    if quality.refusals.height:
        words.append(
            "Some rows were refused on loading and are not mended yet; they count nowhere."
        )
    if wrong:
        words.append(
            "Some records contradict each other; the workbook's page of data quality lists them."
        )
    yield text(*words)
