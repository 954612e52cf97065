"""Routes of a plan that has a baseline alone: recall comes off as it does in a report."""

import dataclasses
from types import SimpleNamespace

import numpy as np
import polars as pl
import pytest

from planner.sizing.context import baseline_routes
from planner.survey.response import KNOWN_BEFORE
from tests.unit.sizing.test_size_of_areas_alone import TABLE, TEMPLATE, evidence

HOUSEHOLDS = 600
ALIKE = {"area_id": "A", "dwelling": "house"}


def asked_once_half_of_them_have_their_bin(adds):
    """Answer a census: half by memory, which adds to what went to the residual bin, 0.5."""
    rng = np.random.default_rng(3)
    is_recalled = np.arange(HOUSEHOLDS) % 2 == 1
    residual = np.clip(0.5 + adds * is_recalled + rng.normal(0.0, 0.1, HOUSEHOLDS), 0.0, 1.0)
    others = [name for name in KNOWN_BEFORE if name not in ALIKE]
    same = {**ALIKE, **dict.fromkeys(others, "one"), "wave_id": "B"}
    ids = [f"H{place:03d}" for place in range(HOUSEHOLDS)]
    frames = pl.DataFrame({"household_id": ids}).with_columns(
        **{name: pl.lit(value) for name, value in same.items()},
        wave_kind=pl.lit("baseline"),
        unit_id=pl.col("household_id"),
        stratum=pl.lit("all"),
        inclusion_probability=pl.lit(1.0),
        has_answered=pl.lit(value=True),
        is_given_back=pl.lit(value=False),
        is_settled=pl.lit(value=False),
        is_in_use=pl.lit(None, dtype=pl.Boolean),
        again_probability=pl.lit(None, dtype=pl.Float64),
        has_answered_again=pl.lit(value=False),
    )
    asked = pl.DataFrame({**same, "households_count": HOUSEHOLDS}).with_columns(
        is_given_back=pl.lit(value=False), is_settled=pl.lit(value=False)
    )
    priors = frames.select("wave_id", "household_id", "area_id", "dwelling").with_columns(
        kerbside_service=pl.lit("residual_only"),
        is_recalled=pl.Series(is_recalled),
        prior_residual_bin_share=pl.Series(residual),
        prior_garden_compost_share=pl.Series(1.0 - residual),
        **{
            f"prior_{name}_share": pl.lit(0.0) for name in ("kerbside_organics", "animals", "other")
        },
    )
    areas = pl.DataFrame(
        {
            "area_id": ["A"],
            "kerbside_service": ["residual_only"],
            "is_priority": [False],
            "bins_given_in_year": [0],
        }
    )
    found = {"wave_frames": frames, "households_by_wave": asked, "prior_shares": priors}
    store = SimpleNamespace(query=lambda name, before_date: found[name])
    return store, dataclasses.replace(evidence(), areas=areas)


def test_what_memory_adds_is_taken_off_a_plan_that_has_a_baseline_alone():
    """Known truth: 0.5 went to the residual bin; half of the households remember 0.7."""
    program = TEMPLATE.model_copy(
        update={"method": TEMPLATE.method.model_copy(update={"draws_count": 200})}
    )
    found = baseline_routes(*asked_once_half_of_them_have_their_bin(0.2), program, TABLE)
    assert found.residual_bin_share[0, 0, 0] == pytest.approx(0.5, abs=0.02)
    unbiased = baseline_routes(*asked_once_half_of_them_have_their_bin(0.0), program, TABLE)
    assert unbiased.residual_bin_share[0, 0, 0] == pytest.approx(0.5, abs=0.02)
