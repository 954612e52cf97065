"""Hand-over days and the bins given: a queue in order of registration."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from sample_programs.generator.streams import stream

if TYPE_CHECKING:
    from sample_programs.generator.calendar import Calendar
    from sample_programs.generator.towns import Town

NOTICE_DAYS = 10
_SATURDAY = 5
_SPARE_PLACES = 1.12
_VENUES = ("Council depot", "Library forecourt", "Community hall", "Market square", "Sports ground")


def plan_events(town: Town, calendar: Calendar, seed: int) -> pl.DataFrame:
    """Set the hand-over days: Saturdays from a year's second month to its eleventh.

    Returns
    -------
    pl.DataFrame
        The columns of events and `event_day`.
    """
    rng = stream(seed, "events")
    days, places = [], []
    for index, year in enumerate(town.years):
        saturdays = _saturdays(town, calendar, index * 12 + np.arange(1, 11))
        days.append(saturdays)
        fair = _SPARE_PLACES * year.registrations_count / len(saturdays)
        places.append(np.full(len(saturdays), max(5, 5 * round(fair / 5))))
    event_day = np.concatenate(days)
    return _events(town, calendar, event_day, np.concatenate(places), rng)


def coming_events(town: Town, calendar: Calendar, held: pl.DataFrame) -> pl.DataFrame:
    """Announce the hand-over days after the records, on which nobody is served yet.

    They are Saturdays near which worms can travel in the town's climate, and have as many
    places as the last day had.

    Returns
    -------
    pl.DataFrame
        The columns of `plan_events`.
    """
    weekday = (calendar.end_day + calendar.origin.weekday()) % 7
    first = calendar.end_day + (_SATURDAY - weekday) % 7
    event_day = first + 7 * np.array(town.giving.coming_weeks)
    places = np.full(len(event_day), held["places_count"][-1])
    rng = stream(town.seed, "coming events")
    return _events(town, calendar, event_day, places, rng, held_count=held.height)


def _saturdays(town: Town, calendar: Calendar, months: np.ndarray) -> np.ndarray:
    """Days of the first Saturdays of each month, as many as the town has a month."""
    a_month = town.giving.events_per_month
    starts = np.repeat(calendar.month_edges[months], a_month)
    weeks = np.tile(np.arange(a_month), len(months)) % 4
    weekday = (starts + calendar.origin.weekday()) % 7
    return starts + (_SATURDAY - weekday) % 7 + 7 * weeks


def _events(
    town: Town,
    calendar: Calendar,
    event_day: np.ndarray,
    places: np.ndarray,
    rng: np.random.Generator,
    held_count: int = 0,
) -> pl.DataFrame:
    count = len(event_day)
    area = rng.permutation(np.resize(np.arange(-1, len(town.areas)), count))
    names = np.array([place.area_id for place in town.areas])
    at_home = pl.Series(area >= 0)
    return pl.DataFrame(
        {
            "event_id": [f"{town.tag}-E{held_count + n:03d}" for n in range(1, count + 1)],
            "area_id": names[area],
            "event_date": calendar.dates(event_day),
            "places_count": places,
            "venue": np.array(_VENUES)[area % len(_VENUES)],
            "event_day": event_day,
        }
    ).with_columns(area_id=pl.when(at_home).then("area_id"))


def serve_queue(registered_day: np.ndarray, events: pl.DataFrame) -> np.ndarray:
    """Give each household, in order of registration, its hand-over day; -1 still waits."""
    event_of = np.full(len(registered_day), -1)
    served = 0
    days = events["event_day"].to_numpy()
    waiting = np.searchsorted(registered_day, days - NOTICE_DAYS, side="right")
    for index, places in enumerate(events["places_count"].to_list()):
        taken = max(0, min(places, int(waiting[index]) - served))
        event_of[served : served + taken] = index
        served += taken
    return event_of


def give_bins(
    town: Town, calendar: Calendar, households: pl.DataFrame, events: pl.DataFrame, seed: int
) -> pl.DataFrame:
    """Hand the bins over.

    Returns
    -------
    pl.DataFrame
        The columns of handovers, `household_index`, `handover_day` and `is_second`.
    """
    rng = stream(seed, "handovers")
    event_of = serve_queue(households["registered_day"].to_numpy(), events)
    came = (event_of >= 0) & (rng.random(len(event_of)) >= town.giving.no_show_share)
    first = np.flatnonzero(came)
    second = first[rng.random(len(first)) < town.giving.second_bin_share]
    household = np.concatenate([first, second])
    is_second = np.arange(len(household)) >= len(first)
    at_counter = is_second | (rng.random(len(household)) < town.giving.counter_share)
    days = events["event_day"].to_numpy()[event_of[household]]
    late = np.where(at_counter, rng.integers(2, 22, len(household)), 0)
    days = np.minimum(days + late + 60 * is_second, calendar.end_day - 1)
    order = np.lexsort((household, days))
    frame = _handover_columns(
        town, calendar, events, rng, order, days, at_counter, event_of, household
    )
    return frame.with_columns(
        household_id=households["household_id"].gather(household[order]),
        household_index=pl.Series(household[order]),
        is_second=pl.Series(is_second[order]),
    )


def _handover_columns(
    town: Town,
    calendar: Calendar,
    events: pl.DataFrame,
    rng: np.random.Generator,
    order: np.ndarray,
    days: np.ndarray,
    at_counter: np.ndarray,
    event_of: np.ndarray,
    household: np.ndarray,
) -> pl.DataFrame:
    count = len(order)
    shares = np.array([model.given_share for model in town.bin_models])
    model = rng.choice(len(shares), count, p=shares / shares.sum())
    event_id = events["event_id"].gather(event_of[household[order]])
    from_event = pl.Series(~at_counter[order])
    free = pl.Series(rng.random(count) < 0.1)
    return pl.DataFrame(
        {
            "handover_id": [f"{town.tag}-B{number:05d}" for number in range(1, count + 1)],
            "event_id": event_id,
            "model_id": np.array([bin_model.model_id for bin_model in town.bin_models])[model],
            "model_index": model,
            "handover_date": calendar.dates(days[order]),
            "worms_kg": np.round(rng.uniform(*town.giving.worms_kg, count), 2),
            "bedding_kg": np.round(town.giving.bedding_kg * rng.uniform(0.9, 1.1, count), 1),
            "copayment": np.full(count, town.giving.copayment),
            "serial": [f"S{number:06d}" for number in rng.permutation(count) + 100_001],
            "handover_day": days[order],
        }
    ).with_columns(
        event_id=pl.when(from_event).then("event_id"),
        copayment=pl.when(free).then(0.0).otherwise("copayment"),
        serial=pl.when(pl.Series(rng.random(count) < 0.9)).then("serial"),
    )
