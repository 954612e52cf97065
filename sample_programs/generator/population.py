"""Who registers, where they live, and where their food scraps went before."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.tables import CHANNELS, DWELLINGS, KERBSIDE_SERVICES, PRIOR_SHARES
from sample_programs.generator.streams import stream

if TYPE_CHECKING:
    from sample_programs.generator.calendar import Calendar
    from sample_programs.generator.towns import Town

_CHANNEL_SHARES = (0.46, 0.14, 0.16, 0.12, 0.07, 0.05)
_CHANNEL_UNKNOWN_SHARE = 0.03

_ROUTE_MEANS = np.array(
    [
        # residual, garden compost, kerbside organics, animals, other; a line a dwelling
        [
            [0.80, 0.08, 0.00, 0.08, 0.04],
            [0.88, 0.05, 0.00, 0.03, 0.04],
            [0.94, 0.01, 0.00, 0.01, 0.04],
        ],
        [
            [0.78, 0.08, 0.06, 0.05, 0.03],
            [0.86, 0.05, 0.04, 0.02, 0.03],
            [0.94, 0.01, 0.01, 0.00, 0.04],
        ],
        [
            [0.40, 0.06, 0.49, 0.02, 0.03],
            [0.48, 0.03, 0.45, 0.01, 0.03],
            [0.62, 0.01, 0.34, 0.00, 0.03],
        ],
    ]
)
"""Mean prior shares of those who did not compost, by service and dwelling: invented."""

_COMPOST_PULL = 0.55
"""Share of a composter's scraps that went to its own compost, whatever else it did."""


def draw_households(town: Town, calendar: Calendar, seed: int) -> pl.DataFrame:
    """Draw the registered households in order of registration.

    Returns
    -------
    pl.DataFrame
        One row a household: the columns of households, its area's place `area_index`,
        `dwelling_index`, `registered_day`, its street's place `street_index` and factor on
        the hazard `street_hazard`, the latent `feed_score` [standard normal],
        `caddy_density_kg_per_l`, `scraps_kg_per_week` and its true prior shares.
    """
    rng = stream(seed, "households")
    registered = _registration_days(town, calendar, rng)
    count = len(registered)
    area, dwelling = _draw_cells(town, count, rng)
    people_mean = np.array(town.giving.people_mean)[dwelling]
    people = np.minimum(1 + rng.poisson(people_mean - 1.0), 9)
    street, street_feed, street_hazard = _draw_streets(town, area, stream(seed, "streets"))
    alike = town.streets.feed_correlation
    feed_score = np.sqrt(1 - alike) * rng.standard_normal(count) + np.sqrt(alike) * street_feed
    channel = rng.choice(len(CHANNELS), count, p=_CHANNEL_SHARES)
    known = rng.random(count) >= _CHANNEL_UNKNOWN_SHARE
    frame = pl.DataFrame(
        {
            "household_id": [f"{town.tag}-{number:05d}" for number in range(1, count + 1)],
            "area_id": np.array([place.area_id for place in town.areas])[area],
            "dwelling": np.array(DWELLINGS)[dwelling],
            "people_count": people,
            "registered_date": calendar.dates(registered),
            "channel": np.array(CHANNELS)[channel],
            "may_contact": rng.random(count) < town.giving.may_contact_share,
            "area_index": area,
            "dwelling_index": dwelling,
            "registered_day": registered,
            "street_index": street,
            "street_hazard": street_hazard,
            "feed_score": feed_score,
            "caddy_density_kg_per_l": rng.uniform(*town.survey.density_kg_per_l, count),
            "scraps_kg_per_week": 2.3 * people**0.6 * np.exp(0.3 * rng.standard_normal(count)),
        }
    ).with_columns(channel=pl.when(pl.Series(known)).then("channel"))
    shares = draw_prior_shares(town, area, dwelling, feed_score, stream(seed, "routes"))
    return frame.with_columns(
        pl.Series(name, shares[:, place]) for place, name in enumerate(PRIOR_SHARES)
    )


def _registration_days(town: Town, calendar: Calendar, rng: np.random.Generator) -> np.ndarray:
    weights = np.array(town.giving.registration_month_weights)
    days = []
    for index, year in enumerate(town.years):
        months = index * 12 + rng.choice(12, year.registrations_count, p=weights / weights.sum())
        starts = calendar.month_edges[months]
        lengths = calendar.month_edges[months + 1] - starts
        days.append(starts + np.floor(rng.random(len(months)) * lengths).astype(int))
    return np.sort(np.concatenate(days))


def _draw_cells(town: Town, count: int, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    dwellings = np.array(
        [[a.houses_count, a.townhouses_count, a.apartments_count] for a in town.areas], dtype=float
    )
    uptake = np.array([place.uptake for place in town.areas])
    weights = dwellings * uptake[:, None] * np.array(town.giving.uptake_by_dwelling)
    cells = rng.choice(weights.size, count, p=(weights / weights.sum()).ravel())
    return cells // len(DWELLINGS), cells % len(DWELLINGS)


def _draw_streets(
    town: Town, area: np.ndarray, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Put each household in a street of its area: place, feed score, factor on the hazard."""
    streets_count = np.maximum(1, np.bincount(area) // town.streets.households_mean)
    first = np.cumsum(streets_count) - streets_count
    street = first[area] + rng.integers(0, streets_count[area])
    of_street = rng.standard_normal((2, streets_count.sum()))
    hazard = np.exp(town.streets.hazard_spread * of_street[1])
    return street, of_street[0][street], hazard[street]


def draw_prior_shares(
    town: Town,
    area: np.ndarray,
    dwelling: np.ndarray,
    feed_score: np.ndarray,
    rng: np.random.Generator,
) -> np.ndarray:
    """Draw every household's five prior shares, households first, each row summing to 1.

    A Dirichlet draw around the mean of its service and dwelling; composters have part
    of it pulled to their own compost; big feeders lean mildly to the residual bin.
    """
    services = np.array([KERBSIDE_SERVICES.index(place.kerbside_service) for place in town.areas])
    means = _ROUTE_MEANS[services[area], dwelling].copy()
    means[:, 3] *= town.routes.animals_factor
    means[:, 0] *= np.exp(town.routes.feed_link * feed_score)
    if town.routes.area_spread > 0.0:
        of_area = stream(rng.integers(2**32), "areas").standard_normal(len(town.areas))
        means[:, 0] *= np.exp(town.routes.area_spread * of_area)[area]
    composts = rng.random(len(area)) < np.array(town.routes.composter_share)[dwelling]
    pull = np.where(composts, _COMPOST_PULL, 0.0)[:, None]
    means = means / means.sum(axis=1, keepdims=True) * (1.0 - pull)
    means[:, 1] += pull[:, 0]
    gammas = rng.standard_gamma(np.maximum(means * town.routes.concentration, 1e-12))
    gammas = np.where(means > 0.0, gammas, 0.0)
    return gammas / gammas.sum(axis=1, keepdims=True)
