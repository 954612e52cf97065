"""A year is estimated in the memory that the program allows, however many answered."""

import tracemalloc
from dataclasses import fields

import numpy as np
import polars as pl
import pytest

from planner.diversion.areas import area_figures
from planner.diversion.bounds import bounds_if_silent
from planner.diversion.carried import another_year, carry_forward
from planner.diversion.counts import Counts
from planner.diversion.measured import measure
from planner.diversion.town_year import BELIEF_IDS
from tests.unit.diversion import town

ASKED_OF_AREA = 400, 1600
DRAWS = 500
MB = 10**6


def counts_of_town():
    """Count what an estimate reads of a town where nothing else was spent or told."""
    told = town.counts()
    told.followup = told.followup.with_columns(pl.col("age_days").cast(pl.Int64))
    return Counts(**{one.name: getattr(told, one.name, None) for one in fields(Counts)})


def peak_mb(counts, draws_count):
    """Estimate a year and its bounds; the most that was held at once, as numpy tells it."""
    shipped = town.program()
    # far below what a council may set, so that the weights of a small town go to a file
    method = shipped.method.model_copy(update={"memory_mb": 16})
    program, rng = shipped.model_copy(update={"method": method}), np.random.default_rng(1)
    around = 0.05 * rng.normal(size=1 + draws_count)
    factors = town.factors(draws_count, **{one: town.FACTORS[one] + around for one in BELIEF_IDS})
    tracemalloc.start()
    try:
        found = measure(counts, program, factors)
        carry_forward(found, counts, program, factors)
        another_year(found, counts, program, factors)
        area_figures(found, 0.75, method.seed)
        bounds_if_silent(found, counts, program, factors)
        return tracemalloc.get_traced_memory()[1] / MB
    finally:
        tracemalloc.stop()


@pytest.mark.thorough
def test_weights_of_more_answers_take_no_more_memory(monkeypatch):
    """Single precision is 4 bytes (IEEE 754): what two rounds' more weights would take is known.

    Of more answers the frames grow too, by a fifth of that with so many draws.
    """
    peaks = []
    for asked_of_area in (60, *ASKED_OF_AREA):  # what is loaded but once comes with the first
        monkeypatch.setattr(town, "ASKED_OF_AREA", asked_of_area)
        peaks.append(peak_mb(counts_of_town(), DRAWS))
    rounds, areas = 2, 2
    more_weights = 4 * DRAWS * rounds * areas * (ASKED_OF_AREA[1] - ASKED_OF_AREA[0]) / MB
    assert peaks[2] - peaks[1] < more_weights / 2
