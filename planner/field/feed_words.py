"""What a feed balance comes to, in the words of one who gives advice."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.factors import FactorTable
    from planner.field.feeding import BeddingToAdd, FeedBalance
    from planner.worms.bedding import Mix

LITTLE_KG = 0.005
SOURCES_OF_STOCK = (
    ("feed_kg_per_kg_day", ""),
    ("doubling_days", "new_bin"),
    ("ceiling_kg_per_m2", ""),
    ("feeding_optimum_low_c", ""),
)


def told(balance: FeedBalance, factors: FactorTable) -> Iterator[str]:
    """Say what goes in, what to change and why, and where the numbers come from."""
    total = sum(balance.fed_kg.values())
    each = ", ".join(f"{in_words(name)} {mass:.2g} kg" for name, mass in balance.fed_kg.items())
    yield f"Fed a week: {total:.2f} kg ({each})." if each else "Nothing of this is to be fed."
    for name, reason in balance.left_out.items():
        yield f"Leave out {in_words(name)}: {reason}."
    if balance.mix is not None:
        yield f"The mix: {_mix_words(balance.mix)}."
        yield from _warnings(balance)
        yield from _bedding(balance)
    yield from _stock(balance)
    yield from _sources(balance, factors)


def in_words(name: str) -> str:
    """Write the name of a material as it is said."""
    return name.replace("_", " ")


def _mix_words(made: Mix) -> str:
    return (
        f"{made.carbon_to_nitrogen_ratio:.0f} parts of carbon to one of nitrogen, "
        f"{made.moisture_share:.0%} water"
    )


def _warnings(balance: FeedBalance) -> Iterator[str]:
    if balance.is_short_of_carbon:
        yield "Warning: too little carbon. Nitrogen will leave as ammonia, which smells and kills."
    if balance.is_slow_to_rot:
        yield "Note: so much carbon rots slowly. Feed more vegetable scraps with it."
    if balance.is_too_wet:
        yield "Warning: too wet. Air cannot get in, and the bin may turn sour and smell."
    if balance.is_too_dry:
        yield "Warning: too dry for worms. Sprinkle water on it until it feels like a wrung cloth."
    if balance.is_too_acid:
        yield (
            "Warning: much of it is fruit or citrus, which turns acid. Feed less of it at a time, "
            "and crush eggshells over it."
        )


def _bedding(balance: FeedBalance) -> Iterator[str]:
    if not balance.bedding:
        if not balance.is_too_dry:
            yield "It needs no bedding except what covers it."
        return
    yield "Add one of these a week (torn small and mixed in):"
    for one in balance.bedding:
        yield f"  {_added(one)}"


def _added(one: BeddingToAdd) -> str:
    if one.made is None:
        return f"{in_words(one.material_id)}: cannot put it right, whatever the amount"
    water = f" and {one.water_kg:.2f} litres of water" if one.water_kg > LITTLE_KG else ""
    return (
        f"{one.mass_kg:.2f} kg of {in_words(one.material_id)}{water}: then {_mix_words(one.made)}"
    )


def _stock(balance: FeedBalance) -> Iterator[str]:
    takes, fed = balance.capacity_kg_per_day, balance.fed_kg_per_day
    yield (
        f"The worms can take {takes.value:.2f} kg a day ({takes.low:.2f} to {takes.high:.2f}) "
        f"at this age, the bed at {balance.bed_c:.0f} °C; fed is {fed:.2f} kg a day."
    )
    if takes.value == 0.0:
        yield "Feed nothing until the bed is milder: bring the bin indoors or into the shade."
    elif fed > takes.high:
        yield (
            f"Far too much: feed {takes.value:.2f} kg a day or less, or share it over more bins."
        )
    elif fed > takes.value:
        yield "More than most bins take: feed again only when the last feed is nearly gone."
    else:
        yield "The stock can take it."


def _sources(balance: FeedBalance, factors: FactorTable) -> Iterator[str]:
    names = [*balance.fed_kg, *(one.material_id for one in balance.bedding)]
    asked = [("carbon_to_nitrogen_ratio", name) for name in names]
    asked += [("mix_carbon_to_nitrogen_ratio", "lowest"), ("mix_moisture_share", "lowest")]
    rows = [factors.find(*one) for one in (*asked, *SOURCES_OF_STOCK)]
    yield "Sources:"
    for source_id in dict.fromkeys(row.source_id for row in rows):
        yield f"  {factors.source(source_id).citation}"
    if balance.left_out:
        yield "  What to leave out: common practice, no source"
