"""What can be done about heat and frost, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.report.wording import listing

if TYPE_CHECKING:
    from planner.ordering.climate import ClimateOption
    from planner.ordering.plan import OrderPlan
    from planner.report.wording import Wording

PACKING_WORDS = {
    "": "plainly packed",
    "insulated": "in insulated boxes",
    "cold_pack": "in insulated boxes with cold packs",
    "heat_pack": "in insulated boxes with heat packs",
}
"""How worms are packed, as it stands behind their name."""


def option_words(option: ClimateOption, plan: OrderPlan, wording: Wording) -> str:
    """Say one way to deal with heat and frost, and what it costs next to the order."""
    days = _days(option)
    kilos = f"{wording.number(option.kilos, 1)} kg"
    later = listing([wording.day(day) for day in option.dates], most=6)
    if option.way == "second_date" and not option.dates:
        return (
            f"No day on which worms may travel follows {days} ({kilos}) within a year: have them "
            "fetched from a farm, or plan other days."
        )
    by_way = {
        "plain_packing": "Plain packing alone: "
        + (f"{days} would get no worms ({kilos})." if option.event_ids else "worms on every day."),
        "better_packing": f"Ask for worms {PACKING_WORDS[option.packing]}: {days} without worms "
        f"could have theirs ({kilos}). Nobody offers it yet; load a quote and plan again.",
        "later": f"Worms later by voucher for {days} ({kilos}), handed over on {later}.",
        "second_date": f"A second date for {days} ({kilos}), {later} at the earliest, with a "
        "delivery of its own.",
        "indoors": f"Hold {days} indoors or in deep shade: the open air is likely too hot, or "
        "frozen all day, for open bags of worms.",
    }
    return f"{by_way[option.way]} {_cost(option, plan, wording)}"


def _days(option: ClimateOption) -> str:
    count = len(option.event_ids)
    return f"{count} hand-over {'day' if count == 1 else 'days'}"


def _cost(option: ClimateOption, plan: OrderPlan, wording: Wording) -> str:
    """Say what a way costs beyond the order, and what is not in that cost."""
    if option.more_cost is None:
        return {
            "indoors": "No price yet: name indoor_cost_per_day under [ordering] of program.toml.",
            "better_packing": "No price yet.",
        }.get(option.way, "No plan with it was found.")
    amount = wording.money(abs(option.more_cost))
    cost_words = f"It saves {amount}." if option.more_cost < 0.0 else f"It costs {amount} more."
    if option.way == "second_date" and plan.settings.second_day_cost is None:
        return f"{cost_words} Staff and venue are not in it (second_day_cost of program.toml)."
    return cost_words
