"""A draw from the register: who, with what probability, and what is refused."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from planner.errors import EstimateError
from planner.survey.drawing import draw_clusters, draw_households, permanent_random_number

IDS = [f"HH{number:06d}" for number in range(1, 21)]
SEED = "2025-wave1"


def register(**columns):
    return pl.DataFrame(
        {
            "household_id": IDS,
            "stratum": ["s"] * len(IDS),
            "random_number": [permanent_random_number(SEED, name) for name in IDS],
            "is_resting": [False] * len(IDS),
            **columns,
        }
    )


def test_random_numbers_are_those_of_the_standard_hash():
    # SHA-256 of "2025-wave1|HH000002", first eight bytes over 2**64: `sha256sum` and any
    # calculator give the same
    assert permanent_random_number(SEED, "HH000002") == 0.6347698182191193
    assert permanent_random_number(SEED, "HH000003") == 0.07345406665058316


def test_the_smallest_numbers_are_drawn_in_their_order():
    drawn = draw_households(register(), {"s": 5})
    expected = ["HH000015", "HH000003", "HH000011", "HH000017", "HH000010"]
    assert drawn["household_id"].to_list() == expected
    assert drawn["inclusion_probability"].to_list() == [0.25] * 5


def test_those_resting_are_passed_over_and_counted():
    resting = register(is_resting=[name == "HH000015" for name in IDS])
    drawn = draw_households(resting, {"s": 5})
    assert "HH000015" not in drawn["household_id"]
    assert drawn["inclusion_probability"].to_list() == [0.25] * 5


def test_equal_numbers_go_by_id():
    tied = register(random_number=[0.5] * len(IDS))
    assert draw_households(tied, {"s": 2})["household_id"].to_list() == IDS[:2]


def test_a_stratum_with_too_few_is_named():
    with pytest.raises(EstimateError, match="Stratum s: 21 households to draw and 20"):
        draw_households(register(), {"s": 21})
    with pytest.raises(EstimateError, match="Stratum north: 1 households to draw and 0"):
        draw_households(register(), {"north": 1})


@pytest.mark.thorough
def test_two_draws_by_chance_give_everyone_the_stated_probability():
    """The second sample, from those whom the first left, is one of the whole register."""
    seeds, chosen = 600, np.zeros(len(IDS))
    rng = np.random.default_rng(8)
    for _ in range(seeds):
        first = draw_households(register(random_number=rng.random(20)), {"s": 8})
        resting = pl.Series("is_resting", IDS).is_in(first["household_id"].to_list())
        second = draw_households(
            register(random_number=rng.random(20), is_resting=resting), {"s": 5}
        )
        chosen += pl.Series(IDS).is_in(second["household_id"].to_list()).to_numpy()
    # four standard errors of a share of 0.25
    assert chosen / seeds == pytest.approx(0.25, abs=4 * np.sqrt(0.25 * 0.75 / seeds))


def test_streets_are_drawn_whole():
    streets = register(cluster_id=[f"street {number // 4}" for number in range(20)])
    drawn = draw_clusters(streets, {"s": 2}, SEED)
    smallest = sorted(
        (permanent_random_number(SEED, f"street {number}"), f"street {number}")
        for number in range(5)
    )[:2]
    assert set(drawn["cluster_id"]) == {name for _, name in smallest}
    assert drawn["inclusion_probability"].to_list() == [0.4] * 8


def test_a_street_in_two_strata_is_refused():
    stratum = ["s"] * 10 + ["t"] * 10
    both = register(cluster_id=["x"] * 20, stratum=stratum)
    with pytest.raises(EstimateError, match="Cluster x lies in two strata"):
        draw_clusters(both, {"s": 1}, SEED)
