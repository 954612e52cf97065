"""Weights of a survey round."""

import numpy as np
import polars as pl
import pytest

from planner.errors import EstimateError
from planner.survey.weights import PermanentNumbers, WaveWeights, wave_weights


def frame(strata: dict[str, tuple[int, int, float]]) -> pl.DataFrame:
    """Make a round with, by stratum, households asked, answers, inclusion probability."""
    parts = [
        pl.DataFrame(
            {
                "household_id": [f"{name}{i:04d}" for i in range(asked)],
                "stratum": name,
                "inclusion_probability": probability,
                "has_answered": [i < answers for i in range(asked)],
            }
        )
        for name, (asked, answers, probability) in strata.items()
    ]
    return pl.concat(parts).with_columns(wave_id=pl.lit("W1"), unit_id=pl.col("household_id"))


def weigh(
    asked: pl.DataFrame, draws_count: int, seed: int = 1, speaks_for: str = "process"
) -> WaveWeights:
    numbers = PermanentNumbers.draw(asked["unit_id"], draws_count, np.random.default_rng(seed))
    return wave_weights(asked, numbers, speaks_for=speaks_for)


def test_weights_add_up_to_the_population_of_each_stratum_in_every_replicate() -> None:
    """Law: the response adjustment restores what the stratum stands for."""
    asked = frame({"a": (40, 25, 0.1), "b": (60, 30, 0.5)})
    weighed = weigh(asked, 50, 1)
    in_a = np.array([name.startswith("a") for name in weighed.household_ids])
    assert weighed.weights[:, in_a].sum(axis=1) == pytest.approx(np.full(51, 400.0))
    assert weighed.weights[:, ~in_a].sum(axis=1) == pytest.approx(np.full(51, 120.0))


def test_central_weight_is_base_weight_times_class_adjustment() -> None:
    """Class adjustments asked over answered: 50 / 37 (Saerndal & Lundstroem 2005, by hand)."""
    weighed = weigh(frame({"a": (50, 37, 0.25)}), 3, 1)
    assert weighed.weights[0] == pytest.approx(np.full(37, 4.0 * 50 / 37))


def test_a_small_pool_takes_the_next_smallest_stratum_and_leaves_the_rest() -> None:
    """By hand: 4 answers are too few alone, so the stratum of 12 joins; that of 20 stays."""
    asked = frame({"a": (40, 20, 1.0), "b": (20, 12, 1.0), "c": (10, 4, 1.0)})
    weighed = weigh(asked, 3)
    pooled = np.array([not name.startswith("a") for name in weighed.household_ids])
    assert weighed.weights[0, pooled] == pytest.approx(np.full(16, 30 / 16))
    assert weighed.weights[0, ~pooled] == pytest.approx(np.full(20, 40 / 20))


def test_bins_known_to_have_come_back_keep_their_weight_in_every_replicate() -> None:
    """Law: what is known has no sampling error and takes no part in the response adjustment."""
    asked = frame({"given back": (2, 2, 0.5), "a": (60, 30, 0.5)})
    weighed = weigh(asked, 20)
    known = np.array([name.startswith("given") for name in weighed.household_ids])
    assert weighed.weights[:, known] == pytest.approx(np.full((21, 2), 2.0))
    assert weighed.weights[0, ~known] == pytest.approx(np.full(30, 4.0))


def test_clusters_move_together_and_give_the_variance_of_cluster_means() -> None:
    """Cochran 1977, section 9A.2, equal clusters: V = s² of the cluster means over their number."""
    asked = frame({"a": (200, 200, 0.1)}).with_columns(
        unit_id=pl.lit("street ") + (pl.int_range(pl.len()) // 10).cast(pl.String)
    )
    weighed = weigh(asked, 20_000, 3)
    street = np.arange(200) // 10
    values = np.random.default_rng(4).normal(size=20)[street] + np.random.default_rng(5).normal(
        size=200
    )
    means = weighed.weights @ values / weighed.weights.sum(axis=1)
    of_street = values.reshape(20, 10).mean(axis=1)
    assert means[1:].var() == pytest.approx(of_street.var(ddof=1) / 20, rel=0.06)


def test_small_strata_are_pooled() -> None:
    """By hand: strata of 8 and 5 answers are pooled; 20 + 10 asked stand behind 13 answers."""
    asked = frame({"a": (40, 20, 1.0), "b": (20, 8, 1.0), "c": (10, 5, 1.0)})
    weighed = weigh(asked, 3, 1)
    pooled = np.array([not name.startswith("a") for name in weighed.household_ids])
    assert weighed.weights[0, pooled] == pytest.approx(np.full(13, 30 / 13))


def test_a_complete_census_has_no_sampling_error() -> None:
    """Law: who asked everyone and heard from everyone knows, without error."""
    asked = frame({"a": (30, 30, 1.0)})
    weighed = weigh(asked, 20, speaks_for="households asked")
    assert weighed.weights == pytest.approx(np.ones((21, 30)))


def test_row_order_does_not_matter() -> None:
    asked = frame({"a": (40, 25, 0.1), "b": (60, 30, 0.5)})
    first = weigh(asked, 5, 1)
    second = weigh(asked.reverse(), 5, 1)
    assert first.household_ids.equals(second.household_ids)
    assert np.array_equal(first.weights, second.weights)


def test_too_few_answers_are_an_error_that_names_the_round() -> None:
    with pytest.raises(EstimateError, match="survey round W1: 4 of 40 households answered"):
        weigh(frame({"a": (40, 4, 1.0)}), 5, 1)


def test_replicates_give_the_textbook_variance_of_a_mean() -> None:
    """Cochran 1977, section 2.6: V = (1 - f) s² / n for simple random sampling."""
    values = np.random.default_rng(4).lognormal(size=100)
    for speaks_for, correction in (("households asked", 0.75), ("process", 1.0)):
        weighed = weigh(frame({"a": (100, 100, 0.25)}), 20_000, 3, speaks_for)
        means = weighed.weights @ values / weighed.weights.sum(axis=1)
        expected = correction * values.var(ddof=1) / 100
        assert means[1:].var() == pytest.approx(expected, rel=0.05)


def test_a_household_carries_its_numbers_from_round_to_round() -> None:
    """Two rounds of the same households estimate their change without sampling error."""
    asked = frame({"a": (60, 60, 0.2)})
    numbers = PermanentNumbers.draw(asked["unit_id"], 400, np.random.default_rng(2))
    first = wave_weights(asked, numbers)
    second = wave_weights(asked.with_columns(wave_id=pl.lit("W2")), numbers)
    values = np.random.default_rng(4).lognormal(size=60)
    change = (second.weights @ (values + 1.0) - first.weights @ values) / 300
    assert change == pytest.approx(np.ones(401))
