"""Invented councils with known truth, as exports."""

from __future__ import annotations

import numpy as np

from planner.pooling.contract import DRAWS_COUNT, FEED, TOTALS, Export, ExportHeader, Rate
from planner.pooling.partial import link_of


def about(council="Aldermoor (invented)", **changed):
    words = {
        "council": council,
        "country_locale": "en_AU",
        "currency": "AUD",
        "reporting_year": "2025-26",
        "from_date": "2025-07-01",
        "before_date": "2026-07-01",
        "is_running": False,
        "households_count": 900,
        "answers_count": 300,
        "edition": "ipcc_2006",
        "gwp_set": "ar5",
        "version": "0.1.0",
        "factors": {"methane_gwp100//ar5": [28.0, 28.0, 28.0]},
    }
    return ExportHeader(**(words | changed))


def draws(value, sd, rng):
    return np.concatenate([[value], rng.normal(value, sd, DRAWS_COUNT)])


def export(council="Aldermoor (invented)", size=1.0, seed=1, rates=None, **changed):
    rng = np.random.default_rng(seed)
    totals = {name: draws(100.0 * size, 10.0 * size, rng) for name in TOTALS}
    totals["bins_given"] = np.full(1 + DRAWS_COUNT, round(400.0 * size) * 1.0)
    return Export(about(council, **changed), totals, rates or {})


def rate(value, sd, rng, name=FEED, part=None):
    """Make a rate measured with a survey's error of `sd` on the scale of its link."""
    link = link_of(name)
    middle = float(link.forward(np.array([value]))[0])
    part = np.zeros(1 + DRAWS_COUNT) if part is None else part
    return Rate(np.asarray(link.back(draws(middle, sd, rng) + part)), sd**2, part)
