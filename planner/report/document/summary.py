"""The summary for councillors: about 400 words in plain language."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from planner.report.document.advice import advice
from planner.report.document.judging import audit_agrees, audit_is_small, side_of_zero
from planner.report.document.model import Section
from planner.report.document.saying import points, text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.report.document.contents import Contents
    from planner.report.document.model import Block, Statement

LONG_RUN = "emissions_avoided_100_years_t_co2e"
SILENT = "kept_out_of_landfill_t_if_silent_stopped"
IN_YEAR = "emissions_avoided_in_year_t_co2e"
CAUTIOUS = "account_conservative_t_co2e[100_years.net]"
AHEAD, ON_TRACK = "forecast_kept_out_of_landfill_t", "on_track_share[kept_out_of_landfill_t]"
MOST_ADVICE = 3

OF_RANGES = (
    "Most figures here come with a range. The method is built so that such a range holds the "
    "true figure 19 times in 20."
)
OF_LANDFILL = (
    "Not all of these scraps would have gone to landfill. Some were composted or picked up as "
    "food waste before, and we do not count those."
)
OF_SHARED_ERROR = (
    "The ranges do not cover a fault that all homes share. If most homes think too well of "
    "their own bin, the true figures are lower."
)
OF_OFFSETS = "None of this can be sold or claimed as an offset."
CARE = (
    "Compost and worm bins call for some care. Keep compost damp, wear gloves and a mask, wash "
    "your hands, and lift full trays in pairs. Keep the liquid off plants that you eat raw."
)

BIN_RESULTS = {
    "met": "The target of {bins_given_target:number} was met.",
    "missed": "The target of {bins_given_target:number} was missed.",
}
TONNE_RESULTS = {
    "met": "The target of {kept_out_of_landfill_t_target:amount} was met.",
    "close to": "That is close to the target of {kept_out_of_landfill_t_target:amount}: the "
    "target lies within the range.",
    "missed": "The target of {kept_out_of_landfill_t_target:amount} was missed.",
}
LONG_RUN_WORDS = {
    "above": "Over 100 years, this year's scraps will avoid {emissions_avoided_100_years_t_co2e}, "
    "after the gases of the bins and of making them are taken off.",
    "below": "Over 100 years, this year's scraps will add {emissions_avoided_100_years_t_co2e} "
    "(a minus means added), as the bins give off more than the landfill would have.",
    "either": "Over 100 years, this year's scraps may avoid some gases or add some. The best "
    "figure is {emissions_avoided_100_years_t_co2e}, and that range takes in zero.",
}
IN_YEAR_WORDS = {
    "above": "In the year itself the bins already avoided {emissions_avoided_in_year_t_co2e}.",
    "below": "In the year itself the bins gave off more than they saved "
    "({emissions_avoided_in_year_t_co2e:amount}). That is how it starts: the bins give off "
    "their gases at once, and landfill does so for decades.",
    "either": "For the year itself we cannot tell yet: the figure is "
    "{emissions_avoided_in_year_t_co2e}.",
}
AUDIT_WORDS = {
    True: "We also had waste bins opened and weighed. That check agrees with what homes told us.",
    False: "We also had waste bins opened and weighed. That check does not agree with what homes "
    "told us. Find out why before you rely on these figures.",
    None: "Nobody has yet opened and weighed waste bins as a check on this.",
}
AUDIT_TOO_SMALL = (
    "We also had waste bins opened and weighed. That check fits what homes told us, but it was "
    "too small to prove it."
)


def summary(contents: Contents) -> Section:
    """Say in plain words what happened, what it means, how sure it is, and what comes next."""
    say = contents.saying.say
    blocks: list[Block] = [
        text(*_headline(contents), kind="lead"),
        text(*_giveaway(contents)),
        text(say("Homes fed their bins {fed_t:amount} of scraps."), OF_LANDFILL),
        text(*_emissions(contents)),
        text(*_money(contents)),
        text(*_sureness(contents)),
    ]
    recommended = advice(contents)[:MOST_ADVICE]
    if recommended:
        blocks += [text("For next year we recommend:"), *points(one.short for one in recommended)]
    return Section("summary", "In brief", (*blocks, text(CARE)))


def _headline(contents: Contents) -> Iterator[Statement | str]:
    say = contents.saying.say
    until = ""
    if contents.is_running:
        day = dt.date.fromisoformat(contents.register.through_date)
        until = f" (up to {contents.saying.wording.day(day)})"
    yield say(
        "In {year}{until} the worm bins kept {kept_out_of_landfill_t:amount} of food scraps out of "
        "landfill. The likely range is {kept_out_of_landfill_t:spread} tonnes.",
        year=contents.label,
        until=until,
    )
    result = contents.result("kept_out_of_landfill_t")
    if result:
        yield say(TONNE_RESULTS[result])
    elif contents.saying.knows(AHEAD, ON_TRACK):
        yield say(
            f"The year still runs. By its end we expect {{{AHEAD}}}; the chance of reaching the "
            f"target of {{kept_out_of_landfill_t_target:amount}} is {{{ON_TRACK}:number}}."
        )


def _giveaway(contents: Contents) -> Iterator[Statement | str]:
    say = contents.saying.say
    if contents.saying.knows("bins_given"):
        yield say("The council gave out {bins_given:amount} this year.")
        result = contents.result("bins_given")
        if result:
            yield say(BIN_RESULTS[result])
    yield say(
        "{when} {bins_in_use:number} bins were in use. Of the bins that we give "
        "out, {retention_12_months:amount} are still in use 12 months later.",
        when="By then" if contents.is_running else "At the end of the year",
    )


def _emissions(contents: Contents) -> Iterator[Statement | str]:
    saying = contents.saying
    yield "Food in landfill gives off methane, a gas that warms the climate."
    yield saying.say(LONG_RUN_WORDS[side_of_zero(saying, LONG_RUN)])
    if saying.knows(CAUTIOUS):
        yield saying.say(
            f"If every number that is not sure went against us, it would be {{{CAUTIOUS}:amount}}."
        )
    yield saying.say(IN_YEAR_WORDS[side_of_zero(saying, IN_YEAR)])
    yield OF_OFFSETS


def _money(contents: Contents) -> Iterator[Statement | str]:
    saying = contents.saying
    if not saying.knows("program_cost"):
        yield "What the program cost is not known, as no ledger line is loaded."
        return
    yield saying.say("The program cost {program_cost:amount} this year.")
    if saying.knows("budget"):
        within = saying.value("program_cost") <= saying.value("budget")
        words = "That is within" if within else "That is over"
        yield saying.say("{words} the budget of {budget:amount}.", words=words)
    if saying.knows("cost_per_t_kept_out"):
        yield saying.say(
            "Each tonne kept out of landfill this year cost {cost_per_t_kept_out:number}, though "
            "the bins will last for years."
        )
    yield saying.say(
        "The council paid {avoided_disposal_cost:amount} less in landfill levy and gate fees."
    )


def _sureness(contents: Contents) -> Iterator[Statement | str]:
    saying = contents.saying
    yield OF_RANGES
    rounds = [name for name in contents.figures("response_share") if _is_shown(contents, name)]
    if rounds:
        yield saying.say(
            f"In the last survey round {{response_share[{rounds[-1]}]:amount}} of the homes we "
            "asked replied."
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
