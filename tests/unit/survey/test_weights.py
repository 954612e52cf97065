"""Weights of a survey round: what is known counts, the register is met, laws and truths."""

import numpy as np
import polars as pl
import pytest

from planner.errors import EstimateError
from planner.survey.asked_rounds import BLOCK_BYTES, AskedRound, PermanentNumbers
from planner.survey.response import KNOWN_BEFORE, LEAST_ASKED_IN_CATEGORY, _merged
from planner.survey.weights import WaveWeights, weigh_rounds


def frame(strata: dict[str, tuple[int, int, float]], **columns) -> pl.DataFrame:
    """Make a round with, by area, households asked, answers, inclusion probability."""
    parts = [
        pl.DataFrame(
            {
                "household_id": [f"{name}{i:04d}" for i in range(asked)],
                "stratum": name,
                "area_id": name,
                "inclusion_probability": probability,
                "has_answered": [i < answers for i in range(asked)],
            }
        )
        for name, (asked, answers, probability) in strata.items()
    ]
    others = [name for name in KNOWN_BEFORE if name != "area_id"]
    return (
        pl.concat(parts)
        .with_columns(pl.lit("one").alias(name) for name in others)
        .with_columns(
            wave_id=pl.lit("W1"),
            unit_id=pl.col("household_id"),
            is_given_back=pl.lit(value=False),
            is_settled=pl.lit(value=False),
            is_in_use=pl.lit(value=None, dtype=pl.Boolean),
            again_probability=pl.lit(value=None, dtype=pl.Float64),
            has_answered_again=pl.lit(value=False),
        )
        .with_columns(**columns)
    )


def register(asked: pl.DataFrame) -> pl.DataFrame:
    """Count the population that the base weights stand for; bins that came back once."""
    stands_for = pl.when("is_given_back").then(1.0).otherwise(1.0 / pl.col("inclusion_probability"))
    return asked.group_by(
        "area_id", "dwelling", "people", "cohort", "is_given_back", "is_settled"
    ).agg(households_count=stands_for.sum())


def weigh(
    asked: pl.DataFrame, draws_count: int, seed: int = 1, block_bytes: int = BLOCK_BYTES
) -> WaveWeights:
    rng = np.random.default_rng(seed)
    numbers = PermanentNumbers.draw(asked["unit_id"], draws_count, rng, block_bytes)
    return weigh_rounds((AskedRound.of(asked, numbers, register(asked)),))[0]


def test_weights_add_up_to_the_register_of_each_area_in_every_replicate() -> None:
    asked = frame({"a": (40, 25, 0.1), "b": (60, 30, 0.5)})
    weighed = weigh(asked, 50, 1)
    in_a = np.array([name.startswith("a") for name in weighed.household_ids])
    assert weighed.weights[:, in_a].sum(axis=1) == pytest.approx(np.full(51, 400.0))
    assert weighed.weights[:, ~in_a].sum(axis=1) == pytest.approx(np.full(51, 120.0))
    assert (weighed.asked_count, weighed.answered_count) == (100, 55)


def test_central_weight_is_base_weight_times_asked_over_answered() -> None:
    """One class, 50 / 37 (Saerndal & Lundstroem 2005, by hand)."""
    weighed = weigh(frame({"a": (50, 37, 0.25)}), 3, 1)
    assert weighed.weights[0] == pytest.approx(np.full(37, 4.0 * 50 / 37))


def test_bins_that_came_back_stand_for_themselves_in_every_replicate() -> None:
    """Law: what is known of every household has no sampling error, drawn or not."""
    asked = frame({"a": (60, 30, 0.5), "b": (5, 0, 0.5)}, is_given_back=pl.col("area_id") == "b")
    weighed = weigh(asked, 20)
    back = np.array([name.startswith("b") for name in weighed.household_ids])
    assert weighed.weights[:, back] == pytest.approx(np.ones((21, 5)))
    assert weighed.weights[0, ~back] == pytest.approx(np.full(30, 4.0))
    assert weighed.settled_count == 5


def test_a_household_known_to_have_stopped_keeps_its_base_weight_in_silence() -> None:
    """By hand: of 60 drawn at 1 in 2, 20 told before that they stopped and 15 of those are silent.

    They stand for 40 households; the other 40 drawn, of whom 20 answered, for 80.
    """
    settled = pl.int_range(pl.len()) >= 40
    asked = frame(
        {"a": (60, 20, 0.5)},
        is_settled=settled,
        has_answered=(pl.int_range(pl.len()) < 20) | (pl.int_range(pl.len()) >= 55),
    )
    weighed = weigh(asked, 20)
    known = np.array([int(name[1:]) >= 40 for name in weighed.household_ids])
    assert weighed.weights[0, known] == pytest.approx(np.full(20, 2.0))
    assert weighed.weights[0, ~known] == pytest.approx(np.full(20, 4.0))
    assert weighed.settled_count == 15


def test_few_answers_of_a_cohort_do_not_let_those_known_to_have_stopped_stand_for_more() -> None:
    """Law: whom silence has nothing to do with weighs as much however few others answer.

    Of 40 quarters of 30 households a third is settled; in some two answer, in some all.
    """
    number = np.arange(1200)
    place, quarter = number % 30, number // 30
    answers = place < np.where(quarter % 2 == 0, 12, 30)
    asked = frame(
        {"a": (1200, 0, 0.5)},
        is_settled=pl.Series(place >= 20),
        has_answered=pl.Series(answers & (place < 20)),
        cohort=pl.Series([f"quarter {one:02d}" for one in quarter]),
    )
    weighed = weigh(asked, 20)
    known = np.array([int(name[1:]) % 30 >= 20 for name in weighed.household_ids])
    assert weighed.weights[0, known] == pytest.approx(np.full(400, 2.0))
    assert weighed.weights[0].sum() == pytest.approx(2400.0)


def test_households_asked_that_have_no_bin_by_the_register_change_no_weight() -> None:
    """Law: they are silent, no count is theirs, and nobody stands for them."""
    settled, cohort = pl.int_range(pl.len()) >= 50, pl.lit("2025-01")
    with_bins = frame({"a": (60, 30, 0.5)}, is_settled=settled, cohort=cohort)
    without = frame({"b": (6, 0, 0.5)}, cohort=pl.lit("none"), area_id=pl.lit("a"))
    asked, register_of_bins = pl.concat([with_bins, without]), register(with_bins)
    numbers = PermanentNumbers.draw(asked["unit_id"], 20, np.random.default_rng(1))
    weighed = weigh_rounds((AskedRound.of(asked, numbers, register_of_bins),))[0]
    assert weighed.weights.sum(axis=1) == pytest.approx(np.full(21, 120.0))
    assert weighed.weights[0, -10:] == pytest.approx(np.full(10, 2.0))


def test_silence_that_follows_the_state_told_last_does_not_bias_what_is_in_use() -> None:
    """Known truth: 2,000 households, half told out of use; those answer seven times less often.

    The share in use is 0.45: 0.9 of those that had told in use. Weights by area alone give 0.79.
    """
    rng = np.random.default_rng(2)
    out = np.arange(2000) % 2 == 0
    in_use = ~out & (rng.random(2000) < 0.9)
    answers = rng.random(2000) < np.where(out, 0.1, 0.7)
    asked = frame(
        {"a": (2000, 0, 1.0)},
        has_answered=pl.Series(answers),
        is_settled=pl.Series(out),
        last_state=pl.Series(np.where(out, "out of use", "in use")),
    )
    weighed = weigh(asked, 200)
    state = in_use[[int(name[1:]) for name in weighed.household_ids]]
    shares = weighed.weights @ state / weighed.weights.sum(axis=1)
    assert shares[0] == pytest.approx(in_use.mean(), abs=3 * shares[1:].std())
    assert shares[1:].std() < 0.02
    heard = in_use[answers].mean()
    assert heard > in_use.mean() + 0.3


def asked_again(in_use, answers, drawn, reached):
    """Make a round of which some silent were drawn, 1 in 2, and some of those reached."""
    heard = answers | (drawn & reached)
    return frame(
        {"a": (in_use.size, 0, 1.0)},
        has_answered=pl.Series(heard),
        has_answered_again=pl.Series(heard & ~answers),
        again_probability=pl.Series([0.5 if chosen else None for chosen in drawn]),
        is_in_use=pl.Series(
            [use if told else None for use, told in zip(in_use, heard, strict=True)]
        ),
    )


def test_those_reached_when_asked_again_carry_the_weight_of_the_silent() -> None:
    """By hand: 60 answer; of 40 silent 20 are drawn and all reached: each stands for two."""
    number = np.arange(100)
    drawn = (number >= 60) & (number % 2 == 0)
    weighed = weigh(asked_again(number % 3 == 0, number < 60, drawn, drawn), 30)
    place = np.array([int(name[1:]) for name in weighed.household_ids])
    assert weighed.weights[0, place < 60] == pytest.approx(np.ones(60))
    assert weighed.weights[0, place >= 60] == pytest.approx(np.full(20, 2.0))
    assert weighed.weights.sum(axis=1) == pytest.approx(np.full(31, 100.0))
    assert (weighed.again_count, weighed.answered_again_count) == (20, 20)


def test_asking_again_takes_away_what_silence_tied_to_use_does_to_the_figure() -> None:
    """Known truth: half of 4,000 use their bin and answer with odds of 3 to 1, others 1 to 1."""
    rng = np.random.default_rng(8)
    in_use = rng.random(4000) < 0.5
    answers = rng.random(4000) < np.where(in_use, 0.75, 0.5)
    drawn = ~answers & (rng.random(4000) < 0.5)
    found = {}
    for name, chosen in (("once", np.zeros(4000, dtype=bool)), ("again", drawn)):
        weighed = weigh(asked_again(in_use, answers, chosen, rng.random(4000) < 0.7), 100)
        state = in_use[[int(name[1:]) for name in weighed.household_ids]]
        found[name] = weighed.weights @ state / weighed.weights.sum(axis=1)
    assert found["once"][0] > in_use.mean() + 0.06
    error = found["again"][1:].std()
    assert found["again"][0] == pytest.approx(in_use.mean(), abs=3 * error)


def test_fewer_than_ten_reached_count_as_late_answers() -> None:
    number = np.arange(100)
    drawn = (number >= 60) & (number < 80)
    weighed = weigh(asked_again(number % 3 == 0, number < 60, drawn, number < 69), 5)
    assert weighed.again_count == 0
    assert weighed.weights[0] == pytest.approx(np.full(69, 100 / 69))


def test_users_who_answer_likelier_stand_for_fewer_of_the_silent() -> None:
    """Known truth: users answer with odds three times those of others; half use their bin."""
    rng = np.random.default_rng(6)
    in_use = rng.random(4000) < 0.5
    answers = rng.random(4000) < np.where(in_use, 0.75, 0.5)
    asked = frame(
        {"a": (4000, 0, 1.0)},
        has_answered=pl.Series(answers),
        is_in_use=pl.Series(
            [use if heard else None for use, heard in zip(in_use, answers, strict=True)]
        ),
    )
    numbers = PermanentNumbers.draw(asked["unit_id"], 50, np.random.default_rng(1))
    found = {}
    for odds in (1.0, 3.0):
        weighed = weigh_rounds((AskedRound.of(asked, numbers, register(asked)),), odds)[0]
        state = in_use[[int(name[1:]) for name in weighed.household_ids]]
        found[odds] = weighed.weights @ state / weighed.weights.sum(axis=1)
    assert found[1.0][0] == pytest.approx(0.6, abs=0.03)
    assert found[3.0][0] == pytest.approx(in_use.mean(), abs=0.03)
    assert found[3.0][1:].std() > 0.0


def test_silence_that_follows_size_and_history_does_not_bias_a_mean() -> None:
    """Known truth over 40 rounds: small homes and those silent before answer half as often."""
    misses, errors = [], []
    for seed in range(40):
        rng = np.random.default_rng(seed)
        people = rng.integers(1, 5, 800)
        before = rng.random(800) < 0.4
        y = people + np.where(before, 1.0, 0.0) + rng.normal(size=800)
        chance = np.where(people <= 2, 0.35, 0.7) * np.where(before, 1.0, 0.6)
        asked = frame(
            {"a": (800, 0, 1.0)},
            has_answered=pl.Series(rng.random(800) < chance),
            people=pl.Series(people.astype(str)),
            answered_before=pl.Series(np.where(before, "always", "never")),
        )
        weighed = weigh(asked, 60, seed)
        value = y[[int(name[1:]) for name in weighed.household_ids]]
        means = weighed.weights @ value / weighed.weights.sum(axis=1)
        misses.append(means[0] - y.mean())
        errors.append(means[1:].std())
    assert abs(np.mean(misses)) < 3 * np.std(misses) / np.sqrt(40)
    # replicates speak for the process, misses are about one population: what 800 households
    # of known sizes vary by, 1 + 0.4 × 0.6 over 800, comes between
    assert np.mean(errors) == pytest.approx(np.sqrt(np.var(misses) + 1.24 / 800), rel=0.25)


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


def test_row_order_does_not_matter() -> None:
    asked = frame({"a": (40, 25, 0.1), "b": (60, 30, 0.5)})
    first = weigh(asked, 5, 1)
    second = weigh(asked.reverse(), 5, 1)
    assert first.household_ids.equals(second.household_ids)
    assert np.array_equal(first.weights, second.weights)


def test_too_few_answers_are_an_error_that_names_the_round() -> None:
    with pytest.raises(EstimateError, match="Survey round W1: 4 of 40 households answered"):
        weigh(frame({"a": (40, 4, 1.0)}), 5, 1)


def test_replicates_give_the_textbook_variance_of_a_mean() -> None:
    """Cochran 1977, section 2.6: V = s² / n; no correction, as answers speak for a process."""
    values = np.random.default_rng(4).lognormal(size=100)
    weighed = weigh(frame({"a": (100, 100, 0.25)}), 20_000, 3)
    means = weighed.weights @ values / weighed.weights.sum(axis=1)
    assert means[1:].var() == pytest.approx(values.var(ddof=1) / 100, rel=0.05)


def test_a_household_carries_its_numbers_from_round_to_round() -> None:
    """Two rounds of the same households estimate their change without sampling error."""
    asked = frame({"a": (60, 60, 0.2)})
    numbers = PermanentNumbers.draw(asked["unit_id"], 400, np.random.default_rng(2))
    first = weigh_rounds((AskedRound.of(asked, numbers, register(asked)),))[0]
    again = asked.with_columns(wave_id=pl.lit("W2"))
    second = weigh_rounds((AskedRound.of(again, numbers, register(asked)),))[0]
    values = np.random.default_rng(4).lognormal(size=60)
    change = (second.weights @ (values + 1.0) - first.weights @ values) / 300
    assert change == pytest.approx(np.ones(401))


def test_counts_that_cannot_be_met_together_are_left_out_last_first() -> None:
    """Area N took its bins in one quarter, S in the other, but for two of N that are silent."""
    asked = frame({"n": (32, 30, 0.5), "s": (30, 30, 0.5)}).with_columns(
        people=pl.Series(["1", "2"] * 31),
        cohort=pl.when((pl.col("area_id") == "s") | ~pl.col("has_answered"))
        .then(pl.lit("2025-04"))
        .otherwise(pl.lit("2025-01")),
    )
    weighed = weigh(asked, 20)
    assert weighed.weights.sum(axis=1) == pytest.approx(np.full(21, 124.0))
    assert "quarters" not in weighed.words
    assert "people" in weighed.words


def test_blocks_of_replicates_change_nothing() -> None:
    asked = frame({"a": (40, 25, 0.1), "b": (60, 30, 0.5)})
    whole = weigh(asked, 20)
    in_blocks = weigh(asked, 20, block_bytes=8 * 100 * 3)
    assert in_blocks.weights == pytest.approx(np.asarray(whole.weights), rel=1e-6)
    values = np.random.default_rng(1).normal(size=whole.weights.shape[1])
    assert in_blocks.weights @ values == pytest.approx(whole.weights @ values, rel=1e-7, abs=1e-4)


@pytest.mark.parametrize(("small", "groups"), [(["b"], ["a", "b"]), (["b", "c"], ["a", "bc"])])
def test_two_small_categories_go_together_and_one_alone_stays(small, groups):
    areas = pl.Series("area_id", ["a"] * LEAST_ASKED_IN_CATEGORY + small)
    together = pl.DataFrame({"area": areas, "merged": _merged(areas)}).unique()
    found = together.group_by("merged").agg(pl.col("area").sort().str.join())
    assert sorted(found["area"]) == groups
