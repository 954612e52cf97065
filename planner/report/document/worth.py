"""What a tonne costs beside landfill, and beside other ways to spend the money."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.report.document.judging import side_of_zero
from planner.report.document.saying import table
from planner.report.wording import listing

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.report.document.contents import Contents
    from planner.report.document.model import Statement, Table

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
        (cheaper, "A tonne costs less by"),
        (dearer, "A tonne costs more by"),
        (alike, "A tonne costs about the same by"),
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
