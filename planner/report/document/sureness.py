"""How sure we are, and why: what the intervals hold, what was checked, what they do not hold."""

from __future__ import annotations

from collections.abc import Iterator

from planner.messages import said
from planner.report.charts.rows import source_words
from planner.report.document import Block, Section, Statement
from planner.report.document.contents import Contents, figure_table, parts_table
from planner.report.document.saying import audit_agrees, audit_is_small, section, table, text
from planner.report.figures.retention import HEADLINES


def sureness(contents: Contents) -> Section:
    """Say how sure the figures are."""
    return section(
        "sureness",
        "report.sure.heading",
        text("report.sure.intervals"),
        _audit(contents),
        *_bounds(contents),
        *contents.pictures("sureness"),
        text("report.sure.not_in_them", *_main_route(contents)),
        _records(contents),
    )


def _main_route(contents: Contents) -> list[str]:
    """Say what a single choice counts for, where answers name one route alone."""
    is_asked = "prior_main_route_only" in contents.quality.checks["check_name"]
    return ["report.sure.main_route"] * is_asked


def _drivers(contents: Contents) -> Iterator[Block]:
    shares = {name: contents.saying.value(f"variance_share[{name}]")
              for name in contents.known("variance_share")}  # fmt: skip
    ranked = sorted(shares, key=lambda name: (-shares[name], name))[:10]
    if ranked:
        rows, note = {name: source_words(name) for name in ranked}, "report.sure.drivers_note"
        words = ("report.sure.drivers", "report.sure.source")
        yield parts_table(contents, "drivers", *words, rows, note=note)


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
    near, season = "diary_weeks[calibrate_reports]", "diary_weeks[season]"
    if contents.saying.knows(near, season):
        yield text(contents.saying.say("report.sure.diaries", near=near, season=season))


def _audit(contents: Contents) -> Block:
    saying, agrees = contents.saying, audit_agrees(contents.saying)
    if agrees is None:
        return text("report.sure.no_audit")
    told = [saying.say("report.sure.agree" if agrees else "report.sure.differ")]
    if agrees and audit_is_small(saying):
        told.append(saying.say("report.sure.audit_small"))
    if agrees and saying.knows("audit_detectable_food_kg_per_household_week"):
        told.append(saying.say("report.sure.detectable"))
    return text("report.sure.audit_lead", *told)


def _audit_table(contents: Contents) -> Iterator[Block]:
    if audit_agrees(contents.saying) is not None:
        yield figure_table(contents, "audit", "report.sure.audit")


def _bounds(contents: Contents) -> Iterator[Block]:
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
        cases = (f"report.sure.{one}" for one in ("all_stopped", "estimated", "all_kept"))
        headings = ("report.what", *cases)
        yield table("bounds", "report.sure.bounds", headings, rows, numbers=(1, 2, 3))


def _likelier(contents: Contents) -> Iterator[Block]:
    saying = contents.saying
    odds = list(dict.fromkeys(n.split("|")[1] for n in contents.figures("if_users_odds")))
    if not odds:
        return
    rows: list[tuple[Statement | str, ...]] = [
        (
            contents.register[name].label,
            *(saying.cell(f"if_users_odds[{name}|{one}]") for one in odds),
        )
        for name in HEADLINES
        if saying.knows(f"if_users_odds[{name}|{odds[0]}]")
    ]
    headings = ("report.what", *(said("report.sure.odds", odds=one) for one in odds))
    numbers, note = range(1, 1 + len(odds)), "report.sure.likelier_note"
    yield table("likelier", "report.sure.likelier", headings, rows, numbers=numbers, note=note)
    if saying.knows("users_odds_at_target"):
        yield text(saying.say("report.sure.odds_at_target"))


def _records(contents: Contents) -> Block:
    quality = contents.quality
    wrong = quality.checks.filter(quality.checks["severity"] == "wrong").height
    words = ["report.sure.files"]
    if quality.refusals.height:
        words.append("report.sure.refused")
    if wrong:
        words.append("report.sure.contradict")
    return text(*words)


SURENESS_DETAILS = (_drivers, _rounds, _calibration, _audit_table, _likelier)
"""What sets out drivers, survey rounds, calibration, audit and odds."""
