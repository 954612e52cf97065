"""What the hand-over days ahead need: bins by model, worms alive, bedding."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.ordering.spares import Schedule, schedule
from planner.survey.attendance import thinned_likeness, turnout
from planner.worms.transit import survival_share

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import ArrayLike, NDArray

    from planner.program.ordering import Ordering
    from planner.worms.transit import LossLaw

WORMS = "worms"
"""Name under which worms of every species are needed, stored and handed over."""

ROUNDING = 1e-9
MASS_STEPS = 45
"""Halvings of the search for a mass: far below a gram."""


@dataclass(frozen=True)
class Events:
    """Hand-over days ahead, in order of time."""

    # code, day and place of each
    event_ids: tuple[str, ...]
    event_dates: tuple[dt.date, ...]
    places_names: tuple[str, ...]
    # households that hold a place, or all places where none is held yet, shape (events,)
    booked_count: NDArray[np.int64]
    unbooked_ids: tuple[str, ...] = ()  # days at which no place is held yet


@dataclass(frozen=True)
class Demand:
    """What all hand-over days need, at the levels of service."""

    events: Events
    model_shares: Mapping[str, float]
    bins: Mapping[str, Schedule]  # for each bin model, what must have been bought by each event
    # households for whom worms and bedding must be there, by event, shape (events,)
    show_ups_count: NDArray[np.int64]
    worms_level: NDArray[np.float64]  # probability that so many are enough at each event, (events,)
    # households for whom bedding must have come by each event in all, (events,)
    bedding_households_count: NDArray[np.int64]


def plan_demand(
    events: Events,
    model_shares: Mapping[str, float],
    bins_in_stock: Mapping[str, int],
    settings: Ordering,
) -> Demand:
    """Find the quantities that keep the levels of service at each event and over all.

    The chance that anything runs short anywhere is shared out equally among bin models,
    worms and bedding; the chances of parts add up to at least that of the whole, so the
    overall level is kept whatever hangs together.

    Parameters
    ----------
    model_shares
        Share of the households that take each bin model, adding up to 1.
    bins_in_stock
        Usable bins in store, by model.
    """
    models = [model for model, share in model_shares.items() if share > 0.0]
    item_level = 1.0 - (1.0 - settings.overall_service_level) / (len(models) + 2)
    bins = {
        model: schedule(
            events.booked_count,
            *taking_law(settings, model_shares[model]),
            settings.usable_share,
            settings.event_service_level,
            item_level,
            bins_in_stock.get(model, 0),
        )
        for model in models
    }
    show_ups, worms_level = live_show_ups(
        events.booked_count,
        settings.show_up_share,
        settings.event_service_level,
        item_level,
        settings.show_up_likeness,
    )
    bedding = schedule(
        events.booked_count, *taking_law(settings, 1.0), 1.0, settings.event_service_level,
        item_level,
    )  # fmt: skip
    return Demand(events, dict(model_shares), bins, show_ups, worms_level, bedding.bought_count)


def taking_law(settings: Ordering, share: float) -> tuple[float, float]:
    """Chance that a booked household takes what a share of those who come takes, and likeness."""
    come, likeness = settings.show_up_share, settings.show_up_likeness
    return come * share, thinned_likeness(come, likeness, come * share)


def live_show_ups(
    booked_count: NDArray[np.int64],
    show_up_share: float,
    event_level: float,
    overall_level: float,
    likeness: float = 0.0,
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Households for whom worms must be alive at each event; what is left over is not kept.

    Events are independent, so the overall level of service is a product.

    Returns
    -------
    tuple of ndarray
        Households, and the level that each event is to reach, each of shape (events,): the
        same for all, and no more than asked. So many households reach more, since they are
        whole; the mass to send is found for the level itself, not rounded up a second time.

    Examples
    --------
    >>> counts, levels = live_show_ups(np.array([100, 100]), 0.85, 0.95, 0.9)
    >>> counts.tolist(), levels.round(3).tolist()
    ([91, 91], [0.95, 0.95])
    """
    booked = np.asarray(booked_count, dtype=np.int64)
    level = max(event_level, overall_level ** (1.0 / max(1, len(booked))))
    counts = turnout(booked, show_up_share, likeness).ppf(level).astype(np.int64)
    return counts, np.full(len(booked), level)


def sent_kg_for(
    booked_count: int,
    show_up_share: float,
    worms_kg_per_bin: float,
    level: float,
    survival: NDArray[np.float64],
    likeness: float = 0.0,
) -> float:
    """Least mass to send so that, after losses, all who come have their starter [kg].

    Parameters
    ----------
    level
        Probability with which it must be enough.
    survival
        Equally likely shares of the mass that arrive alive, shape (nodes,).

    Notes
    -----
    Least W with mean over nodes of P(show-ups ≤ W s / w) ≥ level, by bisection between
    the mass that the best and the worst node ask for.

    Examples
    --------
    >>> round(sent_kg_for(100, 0.85, 0.25, 0.95, np.array([0.9])), 2)
    25.28
    """
    law = turnout(booked_count, show_up_share, likeness)
    enough = law.ppf(level) * worms_kg_per_bin
    low = float(law.ppf(0.5) * worms_kg_per_bin * 0.5)
    up_to = law.cdf(np.arange(booked_count + 1))
    high = max(float(booked_count * worms_kg_per_bin / survival.min()), enough)

    def reached(mass_kg: float) -> bool:
        households = np.floor(mass_kg * survival / worms_kg_per_bin + ROUNDING)
        reached_count = np.minimum(households, booked_count).astype(np.int64)
        return bool(up_to[reached_count].mean() >= level)

    for _ in range(MASS_STEPS):
        middle = (low + high) / 2.0
        if reached(middle):
            high = middle
        else:
            low = middle
    return float(high)


def sent_kg_by_law(
    booked_count: int,
    level: float,
    settings: Ordering,
    starter_kg: float,
    law: LossLaw,
    day_warmest_c: ArrayLike,
    held_days: int,
) -> float:
    """Least mass to send under a supplier's law of losses, heat on the way and holding."""
    alive = survival_share(
        law.nodes(), day_warmest_c, settings.holding_loss_share_per_day, held_days
    )
    return sent_kg_for(
        booked_count,
        settings.show_up_share,
        starter_kg,
        level,
        alive,
        settings.show_up_likeness,
    )
