"""The decision brief: one page that says what came of it, what it is worth and what to decide."""

from __future__ import annotations

from collections.abc import Iterator

from planner.messages import said
from planner.report.document import Section, Statement, Table
from planner.report.document.advice import advice
from planner.report.document.contents import KEPT_OUT, Contents
from planner.report.document.saying import (
    NET,
    OTHER_NET,
    audit_agrees,
    audit_is_small,
    compared,
    joined,
    points,
    section,
    side_of_zero,
    table,
    text,
)
from planner.report.wording import listing

IN_YEAR = "emissions_avoided_in_year_t_co2e"
AHEAD, ON_TRACK = "forecast_kept_out_of_landfill_t", "on_track_share[kept_out_of_landfill_t]"

AUDIT_WORDS = {
    True: "brief.audit_agrees",
    False: "brief.audit_differs",
    None: "brief.audit_none",
}
GROSS = "cost_per_t_kept_out_service_life"
PRICE = "disposal_price_per_t"


def summary(contents: Contents) -> Section:
    """Say on one page what came of it, what it is worth, how sure that is, and what to decide."""
    recommended = points(one.short for one in advice(contents)[:3])
    return section(
        "summary",
        "brief.heading",
        text(*_headline(contents), kind="lead"),
        *contents.pictures("summary"),
        _answers(contents),
        *other_ways(contents),
        *((text("brief.to_decide"), *recommended) if recommended else ()),
    )


def counted(contents: Contents) -> Section:
    """Say what can be counted where tonnes cannot be estimated yet, and what those need."""
    saying, label = contents.saying, contents.label
    year = said("chart.headline.so_far", year=label) if contents.is_running else label
    told = {
        "brief.counted": ("bins_given", "households_served"),
        "brief.counted_in_use": ("bins_in_use",),
        "brief.in_use": ("retention_12_months",),
    }
    found = [saying.say(key, year=year) for key, ids in told.items() if saying.knows(*ids)]
    missing = text("brief.counted_missing", kind="caution")
    return section("summary", "brief.heading", text(*found, kind="lead"), missing)


def _answers(contents: Contents) -> Table:
    rows = (
        ("brief.is_it_worth_it", cost_and_savings(contents)),
        ("brief.how_sure", _sureness(contents)),
        ("brief.did_it_reach", _targets(contents)),
        ("brief.does_it_help", _climate(contents)),
    )
    cells = [(question, joined(*answer)) for question, answer in rows]
    return table("brief", "brief.what_councillors_ask", ("brief.question", "brief.answer"), cells)


def _headline(contents: Contents) -> Iterator[Statement | str]:
    saying, label = contents.saying, contents.label
    if contents.is_running:
        yield saying.say("brief.headline_so_far", year=label, day=contents.through)
    else:
        yield saying.say("brief.headline", year=label)
    if result := contents.result(KEPT_OUT):
        yield saying.say(f"brief.tonnes_{result}")


def _targets(contents: Contents) -> Iterator[Statement | str]:
    saying = contents.saying
    if saying.knows("target_reached_share[kept_out_of_landfill_t]"):
        yield saying.say("brief.chance_reached")
    elif saying.knows(AHEAD, ON_TRACK):
        yield saying.say("brief.chance_ahead")
    else:
        yield "brief.no_target"
    if saying.knows("bins_given"):
        yield saying.say("brief.bins_given")
        if result := contents.result("bins_given"):
            yield saying.say(f"brief.bins_{result}")
    if saying.knows("retention_12_months"):
        yield saying.say("brief.in_use")


def _climate(contents: Contents) -> Iterator[Statement | str]:
    saying = contents.saying
    side = side_of_zero(saying, "emissions_avoided_100_years_t_co2e")
    yield saying.say(f"brief.long_run_{side}")
    if saying.knows("account_conservative_t_co2e[100_years.net]"):
        yield saying.say("brief.cautious")
    yield saying.say(f"brief.in_year_{side_of_zero(saying, IN_YEAR)}")
    yield said("brief.not_an_offset")


def _sureness(contents: Contents) -> Iterator[Statement | str]:
    saying = contents.saying
    yield "brief.nineteen_in_twenty"
    rounds = contents.known("response_share")
    if rounds:
        yield saying.say("brief.replied", asked=f"response_share[{rounds[-1]}]")
        if saying.knows("kept_out_of_landfill_t_if_silent_stopped"):
            yield saying.say("brief.if_silent")
    agrees = audit_agrees(saying)
    yield "brief.audit_small" if agrees and audit_is_small(saying) else AUDIT_WORDS[agrees]
    yield "brief.shared_error"


def cost_and_savings(contents: Contents) -> Iterator[Statement | str]:
    """Say what the year cost, what a tonne costs after fees saved, and what is cheaper."""
    saying = contents.saying
    if not saying.knows("program_cost"):
        yield "brief.no_ledger"
        return
    yield saying.say("brief.year_cost")
    if saying.knows("budget"):
        is_within = saying.value("program_cost") <= saying.value("budget")
        yield saying.say("brief.within_budget" if is_within else "brief.over_budget")
    if not saying.knows(NET, PRICE):
        yield "brief.no_tonnes"
        return
    if saying.value(PRICE):
        yield saying.say("brief.tonne_costs")
        yield f"brief.pays_{side_of_zero(saying, NET)}"
    else:
        yield saying.say("brief.tonne_costs_no_fee")
    yield from _beside(contents)


def _beside(contents: Contents) -> Iterator[str]:
    """Say which other ways are cheaper, which dearer, and which cannot be told apart."""
    names = list(contents.figures(OTHER_NET))
    if not names:
        yield "brief.no_other_way"
        return
    sides = {name: compared(contents.saying, NET, f"{OTHER_NET}[{name}]") for name in names}
    for side in ("below", "above", "either"):
        found = [name for name in names if sides[name] == side]
        if found:
            yield said(f"brief.ways.{side}", names=listing(found))


def other_ways(contents: Contents) -> Iterator[Table]:
    """Set the bins beside the other ways the council names; nothing where it names none."""
    saying, names = contents.saying, list(contents.figures("other_way_cost_per_t"))
    if not names or not saying.knows(NET, GROSS, "same_money_t"):
        return
    net = saying.say(f"{{{NET}:number}} ({{{NET}:spread}})")
    rows: list[tuple[Statement | str, ...]] = [
        (
            "brief.ways.bins",
            saying.cell(GROSS),
            saying.cell("fees_saved_per_t_service_life"),
            net,
            saying.cell("same_money_t"),
        )
    ]
    rows += [_row(contents, name) for name in names]
    known = {way.name: way.source for way in contents.program.other_ways}
    sources = dict.fromkeys(known.get(name, name) for name in names)
    note = said("brief.ways.note", sources="; ".join(sources))
    headings = [f"brief.ways.{one}" for one in ("way", "cost", "saved", "net", "tonnes")]
    yield table("ways", "brief.ways.caption", headings, rows, numbers=(1, 2, 3, 4), note=note)


def _row(contents: Contents, name: str) -> tuple[Statement | str, ...]:
    saying, net = contents.saying, f"{OTHER_NET}[{name}]"
    has_range = saying.limits(net)[0] < saying.limits(net)[1]
    shown = f"{{{net}:number}} ({{{net}:spread}})" if has_range else f"{{{net}:number}}"
    return (
        name,
        saying.cell(f"other_way_cost_per_t[{name}]"),
        saying.cell(PRICE),
        saying.say(shown),
        saying.cell(f"other_way_t[{name}]"),
    )
