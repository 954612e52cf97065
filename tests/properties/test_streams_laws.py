"""Laws of many streams of landfilled waste, whatever the numbers."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.emissions import (
    Decay,
    Streams,
    monthly_methane_kg,
    streams_methane_kg,
    yearly_methane_kg,
)

SEEDS = st.integers(0, 2**32 - 1)
AGES = (0, 1, 4, 9)


def _case(seed, draws=3, streams=4, months=30):
    """Draw waste and factors of every kind, delays beyond the first well's age too."""
    rng = np.random.default_rng(seed)
    shape = (draws, streams)
    waste_kg = rng.uniform(0.0, 1e4, (*shape, months)) * (rng.random((*shape, months)) < 0.7)
    return waste_kg, Streams(
        rng.uniform(0.01, 0.7, shape),
        rng.uniform(0.0, 0.1, shape),
        rng.uniform(0.0, 14.0, shape),
        rng.uniform(0.0, 0.9, shape),
        AGES,
        np.sort(rng.uniform(0.0, 1.0, (*shape, len(AGES))), axis=-1),
    )


def _close(expected):
    return pytest.approx(expected, rel=1e-9, abs=1e-7)


@given(SEEDS, st.integers(1, 160))
@settings(max_examples=40, deadline=None)
def test_streams_together_are_the_sum_of_each_alone(seed, months):
    waste_kg, streams = _case(seed, months=months)
    expected = np.zeros((3, months))
    for draw in range(3):
        for one in range(4):
            decay = Decay(
                streams.rate_per_year[draw, one],
                streams.delay_months[draw, one],
                streams.oxidised_share[draw, one],
                AGES,
                streams.captured_share[draw, one],
            )
            potential_kg = waste_kg[draw, one] * streams.potential_kg_per_kg[draw, one]
            expected[draw] += monthly_methane_kg(potential_kg, decay)
    assert streams_methane_kg(waste_kg, streams) == _close(expected)


@given(SEEDS, st.floats(0.0, 10.0))
def test_methane_is_in_proportion_to_the_waste(seed, factor):
    waste_kg, streams = _case(seed)
    other_kg, _ = _case(seed + 1)
    apart = streams_methane_kg(waste_kg, streams) + factor * streams_methane_kg(other_kg, streams)
    assert streams_methane_kg(waste_kg + factor * other_kg, streams) == _close(apart)


@given(SEEDS, st.integers(1, 30))
def test_waste_that_comes_later_gives_the_same_later(seed, shift):
    waste_kg, streams = _case(seed)
    later_kg = np.pad(waste_kg, ((0, 0), (0, 0), (shift, 0)))
    later = streams_methane_kg(later_kg, streams)
    assert later[:, shift:] == _close(streams_methane_kg(waste_kg, streams))
    assert (later[:, :shift] == 0.0).all()


@given(SEEDS)
@settings(max_examples=25, deadline=None)
def test_in_the_end_all_of_the_potential_is_given_off(seed):
    waste_kg, streams = _case(seed)
    long_kg = np.pad(waste_kg, ((0, 0), (0, 0), (0, 12 * 600)))
    open_air = Streams(
        np.maximum(0.05, streams.rate_per_year), streams.potential_kg_per_kg, streams.delay_months
    )
    given_off = streams_methane_kg(long_kg, open_air).sum(axis=1)
    potential = (waste_kg.sum(axis=2) * streams.potential_kg_per_kg).sum(axis=1)
    assert given_off == _close(potential)


@given(SEEDS, st.integers(1, 200))
def test_stock_and_what_has_decayed_make_up_what_was_deposited(seed, months):
    # The stock stepped month by month, equations 3.4 and 3.5 with k/12.
    waste_kg, streams = _case(seed, months=months)
    plain = Streams(streams.rate_per_year)
    stock = np.zeros(waste_kg.shape[:2])
    for month in range(months):
        stock = (stock + waste_kg[..., month]) * np.exp(-streams.rate_per_year / 12)
    decayed = streams_methane_kg(waste_kg, plain).sum(axis=1)
    assert stock.sum(axis=1) + decayed == _close(waste_kg.sum(axis=(1, 2)))


@given(st.floats(0.01, 0.7), st.lists(st.floats(0.0, 1e4), min_size=1, max_size=20))
def test_months_of_even_deposits_add_up_below_a_deposit_on_the_first_of_january(rate, by_year):
    waste_kg = np.repeat(np.array(by_year) / 12, 12)[np.newaxis, np.newaxis]
    months = streams_methane_kg(waste_kg, Streams([rate]))[0]
    years = yearly_methane_kg(by_year, Decay(rate), start_month=1)
    assert months.sum() <= years.sum() * (1 + 1e-12)


def test_fast_decay_over_centuries_is_as_exact_as_slow():
    # exp(k t) of 0.7 over 3,000 years is beyond any number: the span is cut into parts.
    waste_kg = np.zeros((1, 1, 36_000))
    waste_kg[0, 0, [0, 35_988]] = 1.0
    found = streams_methane_kg(waste_kg, Streams([0.7]))[0]
    assert np.isfinite(found).all()
    assert found[:35_988].sum() == pytest.approx(1.0)
    assert found[35_988:].sum() == pytest.approx(1 - np.exp(-0.7))


@pytest.mark.parametrize("workers_count", [1, 2, 5])
def test_threads_change_nothing(workers_count):
    waste_kg, streams = _case(3, draws=7)
    alone = streams_methane_kg(waste_kg, streams)
    assert np.array_equal(streams_methane_kg(waste_kg, streams, workers_count=workers_count), alone)


def test_one_waste_for_all_draws_of_the_factors():
    waste_kg, streams = _case(8)
    same = np.broadcast_to(waste_kg[:1], waste_kg.shape)
    found = streams_methane_kg(waste_kg[:1], streams)
    assert found == _close(streams_methane_kg(np.ascontiguousarray(same), streams))


@pytest.mark.parametrize(
    ("ages", "shares", "words"),
    [
        ((1, 2), (0.1, 0.2), "rise from 0"),
        ((0, 2, 2), (0.1, 0.2, 0.3), "rise from 0"),
        ((0, 2), (0.1,), "one for each of 1"),
        ((0, 2.5), (0.1, 0.2), "whole years"),
    ],
)
def test_ages_of_capture_that_do_not_fit_are_refused(ages, shares, words):
    with pytest.raises(ValueError, match=words):
        streams_methane_kg(np.ones((1, 1, 3)), Streams([0.1], 1.0, 0.0, 0.0, ages, shares))
