"""The decision brief: one page that says what came of it, what it is worth and what to decide."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from planner.report.document.advice import advice
from planner.report.document.judging import audit_agrees, audit_is_small, side_of_zero
from planner.report.document.model import Section
from planner.report.document.saying import joined, points, table, text
from planner.report.document.worth import ways, worth

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.report.document.contents import Contents
    from planner.report.document.model import Block, Statement, Table

KEPT_OUT = "kept_out_of_landfill_t"
LONG_RUN = "emissions_avoided_100_years_t_co2e"
SILENT = "kept_out_of_landfill_t_if_silent_stopped"
IN_YEAR = "emissions_avoided_in_year_t_co2e"
CAUTIOUS = "account_conservative_t_co2e[100_years.net]"
AHEAD, ON_TRACK = "forecast_kept_out_of_landfill_t", "on_track_share[kept_out_of_landfill_t]"
REACHED = "target_reached_share[kept_out_of_landfill_t]"
MOST_ADVICE = 3

OF_SHARED_ERROR = (
    "The range does not cover an error that every answer shares: if most homes overstate what "
    "they feed their bin, the true result is lower."
)
OF_OFFSETS = "None of this is an offset."
TONNE_RESULTS = {
    "above": "That is above the target of {kept_out_of_landfill_t_target:amount}.",
    "on": "That is on target: {kept_out_of_landfill_t_target:amount} was about as likely "
    "reached as not.",
    "below": "That is below the target of {kept_out_of_landfill_t_target:amount}.",
}
BIN_RESULTS = {
    "above": "That is above the target of {bins_given_target:number}.",
    "on": "That is the target exactly.",
    "below": "That is below the target of {bins_given_target:number}.",
}
LONG_RUN_WORDS = {
    "above": "Over 100 years this year's scraps will avoid {emissions_avoided_100_years_t_co2e}, "
    "after emissions of the bins and of making them.",
    "below": "Over 100 years this year's bins will add emissions, not avoid them: "
    "{emissions_avoided_100_years_t_co2e}. A minus means added.",
    "either": "Over 100 years the effect could be zero: this year's scraps may avoid emissions or "
    "add some. The best estimate is {emissions_avoided_100_years_t_co2e}.",
}
IN_YEAR_WORDS = {
    "above": "In the year itself the bins already avoided {emissions_avoided_in_year_t_co2e}.",
    "below": "In the year itself they added more than they avoided "
    "({emissions_avoided_in_year_t_co2e:amount}), because bins emit at once and landfill over "
    "decades.",
    "either": "In the year itself the effect could be zero: {emissions_avoided_in_year_t_co2e}.",
}
AUDIT_WORDS = {
    True: "Waste bins opened and weighed as a check agree with what homes told us.",
    False: "Waste bins opened and weighed as a check do not agree with what homes told us. Find "
    "out why before you rely on these figures.",
    None: "Nobody has yet opened and weighed waste bins as a check.",
}
AUDIT_TOO_SMALL = (
    "Waste bins opened and weighed as a check fit what homes told us, but too few were opened to "
    "prove it."
)


def summary(contents: Contents) -> Section:
    """Say on one page what came of it, what it is worth, how sure that is, and what to decide."""
    blocks: list[Block] = [
        text(*_headline(contents), kind="lead"),
        *contents.pictures("summary"),
        _answers(contents),
        *ways(contents),
    ]
    recommended = advice(contents)[:MOST_ADVICE]
    if recommended:
        blocks += [
            text("What to decide. We recommend:"),
            *points(one.short for one in recommended),
        ]
    return Section("summary", "Decision brief", tuple(blocks))


def _answers(contents: Contents) -> Table:
    rows = (
        ("Is it worth the money?", worth(contents)),
        ("How sure are we?", _sureness(contents)),
        ("Did it reach its targets?", _targets(contents)),
        ("Does it help the climate?", _climate(contents)),
    )
    cells = [(question, joined(*answer)) for question, answer in rows]
    return table("brief", "What councillors ask", ("Question", "Answer"), cells)


def _headline(contents: Contents) -> Iterator[Statement | str]:
    until = ""
    if contents.is_running:
        day = dt.date.fromisoformat(contents.register.through_date)
        until = f" (up to {contents.saying.wording.day(day)})"
    yield contents.saying.say(
        "In {year}{until} the worm bins kept {kept_out_of_landfill_t:amount} of food scraps out of "
        "landfill (likely range {kept_out_of_landfill_t:spread} tonnes).",
        year=contents.label,
        until=until,
    )
    result = contents.result(KEPT_OUT)
    if result:
        yield contents.saying.say(TONNE_RESULTS[result])


def _targets(contents: Contents) -> Iterator[Statement | str]:
    saying = contents.saying
    if saying.knows(REACHED):
        yield saying.say(
            f"Tonnes: the chance that the target of {{{KEPT_OUT}_target:amount}} was reached is "
            f"{{{REACHED}:chance}}."
        )
    elif saying.knows(AHEAD, ON_TRACK):
        yield saying.say(
            f"Tonnes: the year still runs. By its end we expect {{{AHEAD}}}; the chance of "
            f"reaching the target of {{{KEPT_OUT}_target:amount}} is {{{ON_TRACK}:chance}}."
        )
    else:
        yield "No target for tonnes was set."
    if saying.knows("bins_given"):
        yield saying.say("Bins: the council gave out {bins_given:amount}.")
        result = contents.result("bins_given")
        if result:
            yield saying.say(BIN_RESULTS[result])
    if saying.knows("retention_12_months"):
        yield saying.say("{retention_12_months:amount} of bins are in use 12 months later.")


def _climate(contents: Contents) -> Iterator[Statement | str]:
    saying = contents.saying
    yield saying.say(LONG_RUN_WORDS[side_of_zero(saying, LONG_RUN)])
    if saying.knows(CAUTIOUS):
        yield saying.say(
            f"If every uncertain number went against us it would be {{{CAUTIOUS}:amount}}."
        )
    yield saying.say(IN_YEAR_WORDS[side_of_zero(saying, IN_YEAR)])
    yield OF_OFFSETS


def _sureness(contents: Contents) -> Iterator[Statement | str]:
    saying = contents.saying
    yield "The true figure lies in a likely range 19 times in 20."
    rounds = [name for name in contents.figures("response_share") if _is_shown(contents, name)]
    if rounds:
        yield saying.say(
            f"{{response_share[{rounds[-1]}]:amount}} of the homes asked last replied."
        )
        if saying.knows(SILENT):
            yield saying.say(
                f"If all others had given up, the result would be {{{SILENT}:amount}}."
            )
    agrees = audit_agrees(saying)
    yield AUDIT_TOO_SMALL if agrees and audit_is_small(saying) else AUDIT_WORDS[agrees]
    yield OF_SHARED_ERROR


def _is_shown(contents: Contents, wave_id: str) -> bool:
    return contents.saying.knows(f"response_share[{wave_id}]")
