"""A delivery round: stops of the day, their order, and the driver's papers.

Coordinates of front doors are personal details: they come of the encrypted contacts and go to
``private/`` alone. Those of drop points are public.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.errors import ProgramError
from planner.field.day import Day, find_day, kit_of, with_sole_model
from planner.field.draw import BROUGHT
from planner.field.routes import great_circle_km, plan_routes, read_distances
from planner.field.run_sheet import driver_sheet
from planner.messages import say
from planner.paths import PRIVATE_FOLDER, file_stem
from planner.progress import Progress
from planner.store.files import check_free, write_owned
from planner.store.opening import open_store
from planner.tables import FIRST_DATE, LAST_DATE
from planner.workbooks import file_bytes

if TYPE_CHECKING:
    from pathlib import Path

    from planner.field.routes import Routes
    from planner.program import Delivery, Program
    from planner.store.opening import Store

NAMED_MOST = 20


@dataclass(frozen=True)
class Deliveries:
    """A planned round."""

    day: Day
    # rows of the query places_of_event with full_name, phone, stop_id, vehicle, trip, place_in_trip
    # and slot (when the vehicle is expected), in the order of the round
    places: pl.DataFrame
    # one row a stop in order: vehicle, trip, place_in_trip, stop_id, stop_name, bins_count, leg_km,
    # arrives
    stops: pl.DataFrame
    total_km: float  # all ways, those back to the start among them [km]
    # distances were given; otherwise they are great circles times the road factor
    is_measured: bool
    file: Path | None  # the driver's papers; None for a dry run


def deliver(
    folder: Path,
    program: Program,
    event_id: str | None,
    worms_kg: float,
    distances: Path | None,
    *,
    dry_run: bool,
    force: bool,
    progress: Progress,
) -> Deliveries:
    """Plan the round of a delivery day and write the driver's papers.

    Parameters
    ----------
    event_id
        Code of the delivery day; None for the first whose round is still to be made.
    distances
        CSV file of distances between stops; great circles where there is none.

    Raises
    ------
    ProgramError
        It is no delivery day, nobody is served, or a stop has no coordinates.
    IntakeError, EstimateError, StoreError
        The distances, the loads and hours, or the records do not allow it.
    """
    settings = program.delivery
    if settings is None:
        raise ProgramError(say("rounds.no_block"))
    with open_store(folder, read_only=True) as store:
        day = find_day(store.records("events"), event_id or _next_round(store))
        places = with_sole_model(store.query("places_of_event", event_id=day.event_id), program)
        contacts, drop_points = store.records("contacts"), store.records("drop_points")
        kit = kit_of(program, worms_kg, store.records("handovers"))
    path = folder / PRIVATE_FOLDER / f"driver_{file_stem(day.event_id)}.xlsx"
    check_free(path, "handovers", forced=force or dry_run)
    if day.event_kind != BROUGHT:
        raise ProgramError(say("rounds.collected", event=day.event_id))
    if places.is_empty():
        raise ProgramError(say("rounds.nobody", event=day.event_id))
    served = _with_stops(places, contacts, drop_points)
    stops = _stops(served, settings)
    progress(say("rounds.finding", places.height))
    measured = read_distances(distances, stops["stop_id"].to_list()) if distances else None
    found = plan_routes(
        _distances(stops, settings) if measured is None else measured,
        stops["bins_count"].to_numpy(),
        settings,
    )
    ordered = _in_order(found, stops, settings)
    planned = Deliveries(
        day, _of_round(served, ordered), ordered, found.total_km, measured is not None, None
    )
    if dry_run:
        return planned
    progress(say("rounds.writing"))
    write_owned(path, file_bytes(driver_sheet(planned, kit, program)))
    return replace(planned, file=path)


def _next_round(store: Store) -> str:
    """Find the first delivery day at which a place is still held: its round is not made yet.

    Raises
    ------
    ProgramError
        There is none.
    """
    days = store.query("upcoming_events", from_date=FIRST_DATE, before_date=LAST_DATE)
    ready = days.filter((pl.col("event_kind") == BROUGHT) & (pl.col("booked_count") > 0))
    if ready.is_empty():
        raise ProgramError(say("rounds.no_day"))
    return str(ready["event_id"][0])


def _with_stops(
    places: pl.DataFrame, contacts: pl.DataFrame, drop_points: pl.DataFrame
) -> pl.DataFrame:
    """Find the stop of each household: its drop point, or else its own front door.

    Raises
    ------
    ProgramError
        A front door has no coordinates.
    """
    points = drop_points.select("drop_point_id", "place_name", north="latitude", east="longitude")
    joined = places.join(contacts, on="household_id", how="left", maintain_order="left").join(
        points, on="drop_point_id", how="left", maintain_order="left"
    )
    located = joined.with_columns(
        pl.coalesce("north", "latitude").alias("latitude"),
        pl.coalesce("east", "longitude").alias("longitude"),
        pl.coalesce("drop_point_id", "household_id").alias("stop_id"),
        pl.coalesce("place_name", "street_address").fill_null("").alias("stop_name"),
    )
    lost = located.filter(pl.col("latitude").is_null() | pl.col("longitude").is_null())
    if lost.height:
        named = ", ".join(lost["household_id"].head(NAMED_MOST))
        more = say("rounds.others") if lost.height > NAMED_MOST else ""
        raise ProgramError(say("rounds.no_place", names=named, more=more))
    return located


def _stops(served: pl.DataFrame, settings: Delivery) -> pl.DataFrame:
    """Count the bins of each stop; one that takes more than a vehicle holds is several."""
    most = settings.bins_per_vehicle
    return (
        served.group_by("stop_id", maintain_order=True)
        .agg(pl.col("stop_name", "latitude", "longitude").first(), pl.len().alias("all_bins"))
        .with_columns(pl.int_ranges(0, (pl.col("all_bins") + most - 1) // most).alias("part"))
        .explode("part")
        .with_columns(
            (pl.col("all_bins").cast(pl.Int64) - pl.col("part") * most)
            .clip(upper_bound=most)
            .alias("bins_count")
        )
    )


def _distances(stops: pl.DataFrame, settings: Delivery) -> np.ndarray:
    north = np.concatenate([[settings.start_latitude], stops["latitude"].to_numpy()])
    east = np.concatenate([[settings.start_longitude], stops["longitude"].to_numpy()])
    return great_circle_km(north, east) * settings.road_factor


def _in_order(found: Routes, stops: pl.DataFrame, settings: Delivery) -> pl.DataFrame:
    leaves = dt.datetime.combine(dt.date(2000, 1, 1), settings.leaves_at)
    arrives = pl.lit(leaves) + pl.duration(
        minutes=pl.col("minutes_after_start").round().cast(pl.Int64)
    )
    named = stops.select("stop_id", "stop_name", "part").with_row_index("stop")
    return (
        found.stops.with_columns(pl.col("stop").cast(pl.UInt32))
        .join(named, on="stop", how="left")
        .with_columns(arrives.dt.to_string("%H:%M").alias("arrives"))
        .sort("vehicle", "trip", "place_in_trip")
        .drop("stop", "minutes_after_start")
    )


def _of_round(served: pl.DataFrame, ordered: pl.DataFrame) -> pl.DataFrame:
    """Put the households in the order of the round, each with the part of its stop."""
    ends = ordered.sort("stop_id", "part").with_columns(
        pl.col("bins_count").cum_sum().over("stop_id").alias("until")
    )
    numbered = served.with_columns(
        pl.int_range(1, pl.len() + 1).over("stop_id").cast(pl.Int64).alias("until")
    )
    met = numbered.sort("until").join_asof(
        ends.select(
            "stop_id", "vehicle", "trip", "place_in_trip", "arrives", pl.col("until").cast(pl.Int64)
        ).sort("until"),
        on="until",
        by="stop_id",
        strategy="forward",
        check_sortedness=False,
    )
    return met.with_columns(pl.col("arrives").alias("slot")).sort(
        "vehicle", "trip", "place_in_trip", "booking_id"
    )
