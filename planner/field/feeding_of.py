"""Whose feed is balanced: the bins of a household on record, or bins that are described."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl

from planner.errors import StoreError
from planner.field.feeding import Bin
from planner.messages import officer_messages, say
from planner.store.opening import open_store
from planner.units import DAYS_PER_WEEK
from planner.worms.bedding import material_words

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from planner.factors import FactorTable
    from planner.field.feeding import BeddingToAdd, FeedBalance
    from planner.program import Program
    from planner.worms.bedding import Mix


MIXED = "food_scraps"
"""Material that stands for scraps of which only the mass is known."""


@dataclass(frozen=True)
class FeedRequest:
    """What is asked about a week's feed."""

    # for each material its mass in a week [kg]; where it is empty, what the household last said, as
    # mixed scraps
    fed_kg: Mapping[str, float]
    day: dt.date  # day for which it is asked
    # household whose bins are fed; None describes bins by what follows
    household_id: str | None = None
    site_id: str | None = None  # site whose bins are fed, as a school; likewise
    model_id: str | None = None  # bin model; the first of the program unless said
    weeks: float | None = None  # age of the bins [weeks]; grown up unless said
    starter_kg: float | None = None  # worms given with each bin [kg]
    air_c: float | None = None  # air about the bins [°C]; the normal of the day's month unless said
    bins_count: int = 1  # how many bins share the feed
    beddings: tuple[str, ...] = ()


GROWN_WEEKS = 104.0
"""Age of a bin of which none is told: its stock has grown to what the tray carries."""


def fed_and_bins(
    folder: Path, program: Program, request: FeedRequest
) -> tuple[Mapping[str, float], Bin]:
    """Work out what is fed in a week and into which bins.

    Raises
    ------
    StoreError
        The household holds no bin, or nobody knows what it feeds.
    """
    air_c = request.air_c
    if air_c is None:
        air_c = program.climate.monthly_mean_temperature_c[request.day.month - 1]
    areas = {model.model_id: model.tray_area_m2 for model in program.bin_models}
    if request.site_id is not None:
        with open_store(folder, read_only=True) as store:
            given, weighed = store.records("site_bins"), store.records("site_weighings")
        return _of_site(given, weighed, request, areas, air_c)
    if request.household_id is None:
        model_id = request.model_id or program.bin_models[0].model_id
        area = _area(areas, model_id)
        age = GROWN_WEEKS if request.weeks is None else request.weeks
        if not request.fed_kg:
            raise StoreError(say("fed.name_it"))
        bins = Bin(area, age * DAYS_PER_WEEK, request.starter_kg, air_c, request.bins_count)
        return request.fed_kg, bins
    with open_store(folder, read_only=True) as store:
        bins_held = store.query("bins_held", household_id=request.household_id)
    return _of_household(bins_held, request, areas, air_c)


def _of_household(
    bins: pl.DataFrame, request: FeedRequest, areas: Mapping[str, float], air_c: float
) -> tuple[Mapping[str, float], Bin]:
    if bins.is_empty():
        raise StoreError(say("fed.no_bin", household=str(request.household_id)))
    newest = bins.sort("handover_date").row(-1, named=True)
    fed_kg = request.fed_kg
    if not fed_kg:
        if not newest["fed_kg_last_week"]:
            raise StoreError(say("fed.not_said", household=str(request.household_id)))
        fed_kg = {MIXED: newest["fed_kg_last_week"]}
    age = max(0, (request.day - newest["handover_date"]).days)
    area = _area(areas, newest["model_id"])
    starter_kg = newest["worms_kg"] or request.starter_kg
    return fed_kg, Bin(area, age, starter_kg, air_c, bins.height)


def _of_site(
    given: pl.DataFrame,
    weighed: pl.DataFrame,
    request: FeedRequest,
    areas: Mapping[str, float],
    air_c: float,
) -> tuple[Mapping[str, float], Bin]:
    """Take the bins that a site has in use as so many alike, and its last weighed week."""
    of_site = pl.col("site_id") == request.site_id
    is_used = pl.col("stopped_date").is_null() | (pl.col("stopped_date") > request.day)
    bins = given.filter(of_site & is_used & (pl.col("given_date") <= request.day))
    if bins.is_empty():
        raise StoreError(say("fed.no_site", site=str(request.site_id)))
    count = int(bins["bins_count"].sum())
    ages = pl.lit(request.day) - pl.col("given_date")
    area = pl.col("model_id").map_elements(lambda one: _area(areas, one), pl.Float64)
    weight = pl.col("bins_count") / count
    mean = bins.select(
        (area * weight).sum().alias("area"), (ages.dt.total_days() * weight).sum().alias("age")
    ).row(0, named=True)
    weeks = weighed.filter(of_site & (pl.col("week_start_date") <= request.day)).sort(
        "week_start_date"
    )
    fed_kg = request.fed_kg
    if not fed_kg and (weeks.is_empty() or not weeks["fed_kg"][-1]):
        raise StoreError(say("fed.not_weighed", site=str(request.site_id)))
    starter_kg = float(bins["worms_kg"].sum()) / count or request.starter_kg
    made = Bin(mean["area"], mean["age"], starter_kg, air_c, count)
    return fed_kg or {MIXED: float(weeks["fed_kg"][-1])}, made


def _area(areas: Mapping[str, float], model_id: str) -> float:
    if model_id not in areas:
        raise StoreError(say("fed.no_model", model=model_id, known=", ".join(areas)))
    return areas[model_id]


LITTLE_KG = 0.005
SOURCES_OF_STOCK = (
    ("feed_kg_per_kg_day", ""),
    ("doubling_days", "new_bin"),
    ("ceiling_kg_per_m2", ""),
    ("feeding_optimum_low_c", ""),
)


def balance_lines(balance: FeedBalance, factors: FactorTable) -> Iterator[str]:
    """Say what goes in, what to change and why, and where the numbers come from."""
    total = sum(balance.fed_kg.values())
    words = officer_messages()
    each = ", ".join(
        say("fed.each", name=material_words(name, words), kg=words.significant(mass, 2))
        for name, mass in balance.fed_kg.items()
    )
    if each:
        yield say("fed.a_week", kg=words.number(total, 2), each=each)
    else:
        yield say("fed.nothing")
    for name in balance.left_out:
        named = material_words(name, words)
        yield say("fed.leave_out", name=named, reason=say(f"keep_out.{name}"))
    if balance.mix is not None:
        yield say("fed.mix", mix=_mix_words(balance.mix))
        yield from _warnings(balance)
        yield from _bedding(balance)
    yield from _stock(balance)
    yield from _sources(balance, factors)


def _mix_words(made: Mix) -> str:
    words = officer_messages()
    parts = words.number(made.carbon_to_nitrogen_ratio)
    return say("fed.parts", parts=parts, water=words.share(made.moisture_share))


def _warnings(balance: FeedBalance) -> Iterator[str]:
    if balance.is_short_of_carbon:
        yield say("fed.short_of_carbon")
    if balance.is_slow_to_rot:
        yield say("fed.slow_to_rot")
    if balance.is_too_wet:
        yield say("fed.too_wet")
    if balance.is_too_dry:
        yield say("fed.too_dry")
    if balance.is_too_acid:
        yield say("fed.too_acid")


def _bedding(balance: FeedBalance) -> Iterator[str]:
    if not balance.bedding:
        if not balance.is_too_dry:
            yield say("fed.no_bedding")
        return
    yield say("fed.add")
    yield from map(_added, balance.bedding)


def _added(one: BeddingToAdd) -> str:
    if one.made is None:
        return say("fed.cannot", name=material_words(one.material_id, officer_messages()))
    number = officer_messages().number
    needs_water = one.water_kg > LITTLE_KG
    water = say("fed.with_water", litres=number(one.water_kg, 2)) if needs_water else ""
    return say(
        "fed.added",
        kg=number(one.mass_kg, 2),
        name=material_words(one.material_id, officer_messages()),
        water=water,
        mix=_mix_words(one.made),
    )


def _stock(balance: FeedBalance) -> Iterator[str]:
    takes, fed = balance.capacity_kg_per_day, balance.fed_kg_per_day
    number = officer_messages().number
    limits = {"low": number(takes.low, 2), "high": number(takes.high, 2)}
    a_day = {"kg": number(takes.value, 2), "fed": number(fed, 2)}
    yield say("fed.capacity", **a_day, **limits, celsius=number(balance.bed_c))
    if takes.value == 0.0:
        yield say("fed.feed_nothing")
    elif fed > takes.high:
        yield say("fed.far_too_much", kg=number(takes.value, 2))
    elif fed > takes.value:
        yield say("fed.much")
    else:
        yield say("fed.can_take")


def _sources(balance: FeedBalance, factors: FactorTable) -> Iterator[str]:
    names = [*balance.fed_kg, *(one.material_id for one in balance.bedding)]
    asked = [("carbon_to_nitrogen_ratio", name) for name in names]
    asked += [("mix_carbon_to_nitrogen_ratio", "lowest"), ("mix_moisture_share", "lowest")]
    rows = [factors.find(*one) for one in (*asked, *SOURCES_OF_STOCK)]
    yield say("fed.sources")
    for source_id in dict.fromkeys(row.source_id for row in rows):
        yield f"  {factors.source(source_id).cited(officer_messages())}"
    if balance.left_out:
        yield say("fed.practice")
