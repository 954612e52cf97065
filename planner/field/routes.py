"""The order of stops in which bins are brought: short ways, loads that fit, hours that suffice."""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.arrays import Integers, Numbers
from planner.errors import EstimateError, IntakeError
from planner.messages import say
from planner.store.files import fault_of

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import ArrayLike
    from pyvrp import Model, ScheduledActivity

    from planner.program import Delivery


EARTH_RADIUS_KM = 6371.0088
"""Mean radius of the Earth (Moritz, Geodetic Reference System 1980, Journal of Geodesy 74, 2000;
from memory)."""

METRES_PER_KM, SECONDS_PER_HOUR, SECONDS_PER_MINUTE = 1000, 3600, 60
SEARCH_ROUNDS = 3000
"""Rounds without a better plan after which the search ends; never the clock, so that a busy
machine finds the same plan."""

SEED = 1


@dataclass(frozen=True)
class Routes:
    """Stops in order."""

    # vehicle, trip, place_in_trip (all from 1), stop (index), bins_count, leg_km (from the stop
    # before, or from the start), minutes_after_start
    stops: pl.DataFrame
    total_km: float  # all legs, the ways back to the start among them [km]


def great_circle_km(latitude: ArrayLike, longitude: ArrayLike) -> Numbers:
    """Distances between all pairs of places over the surface of a sphere [km].

    Parameters
    ----------
    latitude, longitude
        Degrees north and east, shape (places,).

    Notes
    -----
    The haversine formula, which keeps its digits for short ways.

    Examples
    --------
    >>> great_circle_km([0.0, 0.0], [0.0, 90.0])[0, 1].round(1)
    np.float64(10007.6)
    """
    north, east = np.radians(np.asarray(latitude)), np.radians(np.asarray(longitude))
    across = np.sin((north[:, None] - north[None, :]) / 2.0) ** 2
    along = np.sin((east[:, None] - east[None, :]) / 2.0) ** 2
    share = across + np.cos(north)[:, None] * np.cos(north)[None, :] * along
    return np.asarray(2.0 * EARTH_RADIUS_KM * np.arcsin(np.sqrt(np.clip(share, 0.0, 1.0))))


def plan_routes(distance_km: Numbers, bins_count: ArrayLike, settings: Delivery) -> Routes:
    """Find short routes that serve every stop with the vehicles there are.

    A vehicle may come back to the start to load again. The search improves routes step by step
    and may miss the shortest; tests find none shorter for up to eight stops.

    Parameters
    ----------
    distance_km
        From each place to each other [km], the start first, shape (1 + stops, 1 + stops).
    bins_count
        Bins for each stop, shape (stops,); none above what a vehicle takes.

    Raises
    ------
    EstimateError
        No plan keeps to loads and hours.

    References
    ----------
    Wouda, Lan and Kool (2024), PyVRP: a high-performance VRP solver package, INFORMS Journal on
    Computing 36, 943 to 955 (from memory): the search.
    """
    from pyvrp.exceptions import PenaltyBoundWarning
    from pyvrp.stop import NoImprovement

    bins = np.asarray(bins_count, dtype=np.int64)
    problem = _problem(distance_km, bins, settings)
    with warnings.catch_warnings():
        # that no plan was found is said below, in the officer's words
        warnings.simplefilter("ignore", PenaltyBoundWarning)
        result = problem.solve(NoImprovement(SEARCH_ROUNDS), seed=SEED, display=False)
    if not result.is_feasible():
        message = say(
            "rounds.too_many",
            bins=int(bins.sum()),
            stops=len(bins),
            hours=f"{settings.hours_most:g}",
            vehicles=settings.vehicles_count,
            each=settings.bins_per_vehicle,
        )
        raise EstimateError(message)
    legs = pl.concat(
        _legs(vehicle, list(route)) for vehicle, route in enumerate(result.best.routes(), start=1)
    )
    away = legs.select("before", "place").to_numpy()
    legs = legs.with_columns(leg_km=pl.Series(distance_km[away[:, 0], away[:, 1]]))
    stops = legs.filter(pl.col("place") > 0).with_columns(
        (pl.col("place") - 1).alias("stop"),
        pl.int_range(1, pl.len() + 1).over("vehicle", "trip").alias("place_in_trip"),
    )
    served = pl.Series("bins_count", bins).gather(stops["stop"])
    return Routes(
        stops.with_columns(served).select(
            "vehicle",
            "trip",
            "place_in_trip",
            "stop",
            "bins_count",
            "leg_km",
            "minutes_after_start",
        ),
        float(legs["leg_km"].sum()),
    )


def _problem(distance_km: Numbers, bins: Integers, settings: Delivery) -> Model:
    """State the routing problem in whole metres and seconds."""
    from pyvrp import Model

    metres = np.rint(distance_km * METRES_PER_KM).astype(np.int64)
    seconds = np.rint(distance_km / settings.speed_km_per_h * SECONDS_PER_HOUR).astype(np.int64)
    model = Model()
    places = [model.add_location(0.0, 0.0) for _ in range(len(metres))]
    start = model.add_depot(places[0])
    service = round(settings.minutes_per_stop * SECONDS_PER_MINUTE)
    for place, count in zip(places[1:], bins.tolist(), strict=True):
        model.add_client(place, delivery=count, service_duration=service)
    model.add_vehicle_type(
        settings.vehicles_count,
        settings.bins_per_vehicle,
        start_depot=start,
        end_depot=start,
        shift_duration=round(settings.hours_most * SECONDS_PER_HOUR),
        reload_depots=[start],
    )
    # the library takes one pair of places at a time
    for one, first in enumerate(places):
        for other, second in enumerate(places):
            if one != other:
                model.add_edge(first, second, int(metres[one, other]), int(seconds[one, other]))
    return model


def _legs(vehicle: int, route: list[ScheduledActivity]) -> pl.DataFrame:
    """Set out the legs of a vehicle: place (0 is the start) and the place before."""
    places = [0 if one.is_depot() else one.idx + 1 for one in route]
    return pl.DataFrame(
        {
            "vehicle": [vehicle] * (len(route) - 1),
            "trip": [one.trip + 1 for one in route[1:]],
            "before": places[:-1],
            "place": places[1:],
            "minutes_after_start": [
                (one.start_time - route[0].end_time) / SECONDS_PER_MINUTE for one in route[1:]
            ],
        }
    )


COLUMNS = ("from_stop", "to_stop", "km")
START_WORD = "start"


def read_distances(path: Path, stop_ids: list[str]) -> Numbers:
    """Read the distances between all stops of a round [km].

    Parameters
    ----------
    path
        CSV file with from_stop, to_stop and km: codes of drop points or households, and the
        word start. A way that is given in one direction counts for both.
    stop_ids
        Stops in order; one may stand there twice, where it takes more than one load.

    Returns
    -------
    ndarray
        Shape (1 + stops, 1 + stops), the start first.

    Raises
    ------
    IntakeError
        The file cannot be read, or a way is missing or no length.
    """
    try:
        read = pl.read_csv(path, columns=list(COLUMNS), schema_overrides={"km": pl.Float64})
    except (pl.exceptions.PolarsError, OSError) as error:
        why, columns = str(error).splitlines()[0], ", ".join(COLUMNS)
        raise fault_of(path, "rounds.unread", IntakeError, why=why, columns=columns) from error
    rows = read.with_columns(pl.col("from_stop", "to_stop").cast(pl.String))
    wrong = rows.filter(~(pl.col("km") >= 0.0).fill_null(value=False) | pl.col("km").is_infinite())
    if wrong.height:
        first = wrong.row(0, named=True)
        way = {"start": first["from_stop"], "end": first["to_stop"], "found": str(first["km"])}
        raise fault_of(path, "rounds.no_number", IntakeError, **way)
    back = rows.select(from_stop="to_stop", to_stop="from_stop", km="km")
    ways = pl.concat([rows, back]).unique(["from_stop", "to_stop"], keep="first")
    names = [START_WORD, *stop_ids]
    places = pl.DataFrame({"name": names}).with_row_index("place")
    pairs = (
        places.select(one="place", from_stop="name")
        .join(places.select(other="place", to_stop="name"), how="cross")
        .join(ways, on=["from_stop", "to_stop"], how="left")
        .with_columns(
            pl.when(pl.col("from_stop") == pl.col("to_stop")).then(0.0).otherwise("km").alias("km")
        )
        .sort("one", "other")
    )
    missing = pairs.filter(pl.col("km").is_null() & (pl.col("one") < pl.col("other")))
    if missing.height:
        first = missing.row(0, named=True)
        way = {"start": first["from_stop"], "end": first["to_stop"]}
        message = say("rounds.missing", missing.height, path=str(path), **way)
        raise IntakeError(message, path=str(path))
    return np.asarray(pairs["km"].to_numpy()).reshape(len(names), len(names))
