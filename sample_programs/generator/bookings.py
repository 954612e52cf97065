"""The waiting list and the places offered: what led to the bins that a town gave."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from sample_programs.generator.boundaries import AT_SEA, DECIMALS, REACH_DEGREES
from sample_programs.generator.giving import NOTICE_DAYS, serve_queue
from sample_programs.generator.streams import stream

if TYPE_CHECKING:
    from sample_programs.generator.simulation import Simulation

_PRIORITY_SHARE = 0.06
_NEEDS = {"step_free": 0.03, "help_to_carry": 0.04, "quiet_time": 0.01, "interpreter": 0.02}
_AT_HOME_SHARE = 0.02
_WISH_SHARE = 0.15
"""Share of households that name a bin model; everything here is invented."""

_FIRST_SLOT_MINUTES, _SLOT_MINUTES, _SLOTS_COUNT = 9 * 60, 30, 8
_DROP_POINTS_COUNT = 3
_BROUGHT_MOST = 40
_PLACES = ("Community garden gate", "Library forecourt", "Sports ground car park")


def drop_points(simulation: Simulation) -> pl.DataFrame:
    """Invent public places to which bins could be brought, at sea as the areas are."""
    rng = stream(simulation.seed, "drop points")
    east, north = AT_SEA[simulation.town.folder]
    away = rng.uniform(-0.5, 0.5, (2, _DROP_POINTS_COUNT)) * REACH_DEGREES
    return pl.DataFrame(
        {
            "drop_point_id": [f"{simulation.town.tag}-P{n}" for n in range(1, 4)],
            "area_id": pl.Series([None] * _DROP_POINTS_COUNT, dtype=pl.String),
            "place_name": _PLACES,
            "latitude": np.round(north + away[0], DECIMALS),
            "longitude": np.round(east + away[1], DECIMALS),
        }
    )


def registrations(simulation: Simulation) -> pl.DataFrame:
    """Every registered household asks for a bin; some say what they need or would like."""
    rng = stream(simulation.seed, "registrations")
    count = simulation.households.height
    needs = (*_NEEDS, "home_delivery")
    shares = np.array([*_NEEDS.values(), _AT_HOME_SHARE])
    need = rng.choice(len(needs) + 1, count, p=[*shares, 1.0 - shares.sum()])
    models = [model.model_id for model in simulation.town.bin_models]
    wish = np.where(rng.random(count) < _WISH_SHARE, rng.integers(0, len(models), count), -1)
    asked = simulation.households.select(
        "household_id",
        "registered_date",
        has_priority=pl.Series(rng.random(count) < _PRIORITY_SHARE),
        access_need=pl.Series([*needs, None], dtype=pl.String).gather(need),
        model_id=pl.Series([*models, None], dtype=pl.String).gather(wish % (len(models) + 1)),
        event_id=pl.lit(None, dtype=pl.String),
    )
    near = brought(simulation, asked).select("household_id", "drop_point_id")
    return asked.join(near, on="household_id", how="left", maintain_order="left")


def delivery_day(simulation: Simulation) -> pl.DataFrame:
    """Plan a delivery on the last day of the records, where the town brings bins at all."""
    day = simulation.calendar.dates(np.array([simulation.calendar.end_day - 1]))
    row = {
        "event_id": [f"{simulation.town.tag}-V01"],
        "event_date": day,
        "event_kind": ["delivery"],
        "places_count": [_BROUGHT_MOST],
    }
    return pl.DataFrame(row).head(int(simulation.town.giving.brought_share > 0.0))


def brought(simulation: Simulation, asked: pl.DataFrame) -> pl.DataFrame:
    """Choose who gets a bin brought of those that missed their day: those who asked for it, some.

    Parameters
    ----------
    simulation
        The town.
    asked
        household_id, model_id and access_need of every household.

    Returns
    -------
    pl.DataFrame
        household_id, model_id, drop_point_id; none to a front door.
    """
    rng = stream(simulation.seed, "brought")
    event_of = serve_queue(simulation.households["registered_day"].to_numpy(), simulation.events)
    missed = asked.filter(pl.Series(event_of >= 0)).join(
        simulation.bins, on="household_id", how="anti", maintain_order="left"
    )
    is_chosen = pl.Series(rng.random(missed.height) < simulation.town.giving.brought_share)
    at_home = pl.col("access_need").eq_missing(pl.lit("home_delivery"))
    points = pl.Series(drop_points(simulation)["drop_point_id"])
    point = points.gather(rng.integers(0, _DROP_POINTS_COUNT, missed.height))
    return (
        missed.with_columns(drop_point_id=pl.when(~at_home).then(point))
        .filter(is_chosen | at_home)
        .select("household_id", "model_id", "drop_point_id")
        .head(delivery_day(simulation)["places_count"].sum())
    )


def bookings(simulation: Simulation) -> pl.DataFrame:
    """Places of the days that were held: who came, stayed away or had moved to the counter."""
    households, events = simulation.households, simulation.events
    event_of = serve_queue(households["registered_day"].to_numpy(), events)
    booked = np.flatnonzero(event_of >= 0)
    day = events["event_day"].to_numpy()[event_of[booked]]
    first_bins = simulation.bins.filter(~pl.col("is_second")).select(
        "household_id", "model_id", took_at="event_id"
    )
    taken = households[booked].select("household_id").join(
        first_bins.with_columns(has_bin=True), on="household_id", how="left", maintain_order="left"
    )  # fmt: skip
    place = _place_within(event_of[booked])
    in_day = np.bincount(event_of[booked])[event_of[booked]]
    held = taken.select(
        "household_id",
        "model_id",
        booking_id=pl.format(
            f"{simulation.town.tag}-K{{}}",
            pl.int_range(1, pl.len() + 1).cast(pl.String).str.zfill(5),
        ),
        event_id=events["event_id"].gather(event_of[booked]),
        offered_date=simulation.calendar.dates(day - NOTICE_DAYS),
        state=pl.when(pl.col("took_at").is_not_null())
        .then(pl.lit("came"))
        .when("has_bin")
        .then(pl.lit("moved"))
        .otherwise(pl.lit("absent")),
        slot=pl.Series(_slots(place * _SLOTS_COUNT // in_day)),
    )
    return pl.concat([held, _to_be_brought(simulation, held)])


def _to_be_brought(simulation: Simulation, held: pl.DataFrame) -> pl.DataFrame:
    """Book the places of the delivery day, all of them answered; the round is still to be made."""
    day = delivery_day(simulation)
    number = pl.int_range(1, pl.len() + 1).cast(pl.String).str.zfill(3)
    chosen = brought(simulation, registrations(simulation)).join(day, how="cross")
    return chosen.with_columns(
        booking_id=pl.format("{}-{}", "event_id", number),
        offered_date=pl.col("event_date").dt.offset_by(f"-{NOTICE_DAYS}d"),
        state=pl.lit("accepted"),
        slot=pl.lit(None, pl.String),
    ).select(held.columns)


def at_the_door(simulation: Simulation) -> pl.DataFrame:
    """Coordinates of the households to whom a bin is brought, invented, at sea."""
    rng = stream(simulation.seed, "front doors")
    east, north = AT_SEA[simulation.town.folder]
    away = rng.uniform(-0.5, 0.5, (2, simulation.households.height)) * REACH_DEGREES
    is_brought = registrations(simulation)["access_need"] == "home_delivery"
    return simulation.households.select(
        "household_id",
        latitude=pl.when(is_brought).then(pl.Series(np.round(north + away[0], DECIMALS))),
        longitude=pl.when(is_brought).then(pl.Series(np.round(east + away[1], DECIMALS))),
    )


def _place_within(event_of: np.ndarray) -> np.ndarray:
    """Count each household's place at its day, from 0; households come in order of days."""
    starts = np.searchsorted(event_of, np.arange(event_of.max() + 1))
    return np.arange(len(event_of)) - starts[event_of]


def _slots(number: np.ndarray) -> list[str]:
    minutes = _FIRST_SLOT_MINUTES + _SLOT_MINUTES * number
    return [f"{minute // 60:02d}:{minute % 60:02d}" for minute in minutes.tolist()]
