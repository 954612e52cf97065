"""The decision brief: one page that says what came of it, what it is worth and what to decide."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from planner.messages import paper
from planner.report.document.advice import advice
from planner.report.document.judging import audit_agrees, audit_is_small, side_of_zero
from planner.report.document.model import Section
from planner.report.document.saying import joined, points, table, text
from planner.report.wording import listing

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

NET = "net_cost_per_t_kept_out_service_life"
GROSS, SAVED = "cost_per_t_kept_out_service_life", "fees_saved_per_t_service_life"
PRICE = "disposal_price_per_t"
NO_LEDGER = "What the program cost is not known, because no ledger is loaded."
NO_TONNES = "A tonne has no price, because nothing may have been kept out."
NO_OTHER_WAY = "No other way to spend the money has been named for comparison."
PAYS = {
    "above": "The bins cost more than they save.",
    "below": "The bins save more than they cost.",
    "either": "The bins could save as much as they cost.",
}
HEADINGS = (
    "For this year's money",
    "Cost of a tonne",
    "Fees saved",
    "Net cost of a tonne",
    "Tonnes",
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
    yield paper().say("brief.not_an_offset")


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


def worth(contents: Contents) -> Iterator[Statement | str]:
    """Say what the year cost, what a tonne costs after fees saved, and what is cheaper."""
    saying = contents.saying
    if not saying.knows("program_cost"):
        yield NO_LEDGER
        return
    yield saying.say("The year cost {program_cost:amount}.")
    if saying.knows("budget"):
        is_within = saying.value("program_cost") <= saying.value("budget")
        side = "within" if is_within else "over"
        yield saying.say("That is {side} the budget of {budget:amount}.", side=side)
    if not saying.knows(NET, PRICE):
        yield NO_TONNES
        return
    yield saying.say(
        f"Over the life of the bins a tonne kept out costs {{{NET}:number}} ({{{NET}:spread}}) "
        f"after fees saved; landfill costs {{{PRICE}:number}} a tonne in levy and gate fee."
    )
    yield PAYS[side_of_zero(saying, NET)]
    yield from _beside(contents)


def _beside(contents: Contents) -> Iterator[str]:
    """Say which other ways are cheaper, which dearer, and which cannot be told apart."""
    names = list(contents.figures("other_way_net_cost_per_t"))
    if not names:
        yield NO_OTHER_WAY
        return
    saying = contents.saying
    low, high = saying.limits(NET)
    limits = {name: saying.limits(f"other_way_net_cost_per_t[{name}]") for name in names}
    cheaper = [name for name in names if limits[name][1] < low]
    dearer = [name for name in names if limits[name][0] > high]
    alike = [name for name in names if name not in (*cheaper, *dearer)]
    for found, words in (
        (cheaper, "Cheaper by the tonne"),
        (dearer, "Dearer by the tonne"),
        (alike, "Too close to call, because the ranges overlap"),
    ):
        if found:
            yield f"{words}: {listing(found)}."


def ways(contents: Contents) -> Iterator[Table]:
    """Set the bins beside the other ways the council names; nothing where it names none."""
    saying, names = contents.saying, list(contents.figures("other_way_cost_per_t"))
    if not names or not saying.knows(NET, GROSS, "same_money_t"):
        return
    rows: list[tuple[Statement | str, ...]] = [
        (
            "Worm bins, over their lives",
            saying.cell(GROSS),
            saying.cell(SAVED),
            saying.say(f"{{{NET}:number}} ({{{NET}:spread}})"),
            saying.cell("same_money_t"),
        )
    ]
    rows += [_row(contents, name) for name in names]
    yield table(
        "ways",
        "What the same money does in other ways",
        HEADINGS,
        rows,
        numbers=(1, 2, 3, 4),
        note=f"Other ways are the council's own figures: {_sources(contents, names)}.",
    )


def _row(contents: Contents, name: str) -> tuple[Statement | str, ...]:
    saying, net = contents.saying, f"other_way_net_cost_per_t[{name}]"
    has_range = saying.limits(net)[0] < saying.limits(net)[1]
    shown = f"{{{net}:number}} ({{{net}:spread}})" if has_range else f"{{{net}:number}}"
    return (
        name,
        saying.cell(f"other_way_cost_per_t[{name}]"),
        saying.cell(PRICE),
        saying.say(shown),
        saying.cell(f"other_way_t[{name}]"),
    )


def _sources(contents: Contents, names: list[str]) -> str:
    known = {way.name: way.source for way in contents.program.other_ways}
    return "; ".join(dict.fromkeys(known.get(name, name) for name in names))
