"""How people round, remember and divide when they answer."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from sample_programs.generator.calendar import Calendar
    from sample_programs.generator.towns import Survey

_SHARE_STEPS = 20
_SHARE_CONCENTRATION = 30.0


def heap_kg(kg: np.ndarray, survey: Survey, rng: np.random.Generator) -> np.ndarray:
    """Say kilograms in whole steps, mostly; a few to the tenth; little amounts in half steps."""
    step = survey.heap_step_kg
    stepped = np.where(kg < step, np.rint(kg * 2 / step) / 2 * step, np.rint(kg / step) * step)
    return np.where(rng.random(len(kg)) < survey.heaped_share, stepped, np.round(kg, 1))


def heap_litres(litres: np.ndarray, survey: Survey, rng: np.random.Generator) -> np.ndarray:
    """Say whole litres, or fives where it is a caddy or more; halves below one."""
    whole = np.where(litres < 1.0, np.rint(litres * 2) / 2, np.rint(litres))
    in_fives = (litres >= 4.0) & (rng.random(len(litres)) < survey.heaped_fives_share)
    return np.where(in_fives, np.rint(litres / 5) * 5, whole)


def report_shares(true_shares: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Say shares in twentieths that sum to 1: a guess around the truth, then rounded.

    Cumulated shares are cut at a random offset, which rounds without bias.
    """
    gammas = rng.standard_gamma(np.maximum(true_shares * _SHARE_CONCENTRATION, 1e-12))
    gammas = np.where(true_shares > 0.0, gammas, 0.0)
    guessed = gammas / gammas.sum(axis=1, keepdims=True)
    offset = rng.random((len(guessed), 1))
    steps = np.floor(np.cumsum(guessed, axis=1) * _SHARE_STEPS + offset + 1e-9)
    return np.round(np.diff(steps, axis=1, prepend=0.0) / _SHARE_STEPS, 2)


def recall_stopped_day(
    survey: Survey,
    calendar: Calendar,
    stopped_day: np.ndarray,
    given_day: np.ndarray,
    answer_day: np.ndarray,
    rng: np.random.Generator,
) -> np.ndarray:
    """Remember the stopping day with an error, rounded to the first of a month."""
    remembered = stopped_day + survey.recall_spread_days * rng.standard_normal(len(stopped_day))
    edges = calendar.month_edges
    middles = (edges[:-1] + edges[1:]) / 2.0
    nearest = edges[np.searchsorted(middles, remembered)]
    return np.clip(nearest, given_day, answer_day)
