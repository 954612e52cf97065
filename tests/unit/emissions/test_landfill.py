"""Shapes, limits and refusals of the decay functions."""

from __future__ import annotations

import numpy as np
import pytest

from planner.emissions.landfill import Decay, methane_between_kg, methane_potential_kg
from tests.landfill_forms import monthly_methane_kg, yearly_methane_kg

RATES = np.array([0.1, 0.2, 0.4])
DRAWN = Decay(
    RATES,
    np.array([0.0, 3.5, 7.0]),
    np.array([0.0, 0.1, 0.2]),
    (0, 5),
    np.array([[0.0, 0.5], [0.1, 0.6], [0.0, 0.9]]),
)


def _one_draw(index: int) -> Decay:
    return Decay(
        float(RATES[index]),
        float(DRAWN.delay_months[index]),
        float(DRAWN.oxidised_share[index]),
        (0, 5),
        DRAWN.captured_share[index],
    )


@pytest.mark.parametrize("deposits", [np.arange(30.0), np.arange(90.0).reshape(3, 30)])
def test_draws_give_what_each_draw_gives_alone(deposits):
    together = monthly_methane_kg(deposits, DRAWN, months_count=200)
    between = methane_between_kg(deposits, DRAWN, (7, 100))[..., 0]
    assert together.shape == (3, 200)
    assert between.shape == (3,)
    for index in range(3):
        own = deposits if deposits.ndim == 1 else deposits[index]
        alone = _one_draw(index)
        assert together[index] == pytest.approx(monthly_methane_kg(own, alone, months_count=200))
        assert between[index] == pytest.approx(float(methane_between_kg(own, alone, (7, 100))[0]))


def test_many_rows_of_deposits_with_one_decay():
    deposits = np.ones((2, 4, 6))
    assert yearly_methane_kg(deposits, Decay(0.1)).shape == (2, 4, 6)
    assert methane_between_kg(deposits, Decay(0.1), (0, 12)).shape == (2, 4, 1)


def test_ages_with_several_axes():
    ages = np.arange(24.0).reshape(4, 6)
    shares = DRAWN.emitted_share(ages)
    assert shares.shape == (3, 4, 6)
    assert shares[1] == pytest.approx(_one_draw(1).emitted_share(ages))


def test_deposits_after_the_series_ends_are_left_out():
    short = monthly_methane_kg(np.ones(24), Decay(0.2), months_count=12)
    assert short == pytest.approx(monthly_methane_kg(np.ones(12), Decay(0.2)))


def test_a_step_of_capture_begins_at_its_age():
    # All caught from year 2 on: what decays in the first two years alone gets out.
    decay = Decay(0.3, capture_from_age_years=(0, 2), captured_share=(0.0, 1.0))
    assert float(decay.emitted_share(1200)) == pytest.approx(1 - np.exp(-0.6))


def test_nothing_decays_before_the_delay_is_over():
    decay = Decay(0.2, delay_months=6)
    assert decay.decayed_share([0.0, 6.0]).tolist() == [0.0, 0.0]
    assert float(decay.decayed_share(18)) == pytest.approx(1 - np.exp(-0.2))


def test_no_waste_no_methane():
    potential = methane_potential_kg(np.zeros(5), 0.15, 0.5, 1.0, 0.5)
    assert monthly_methane_kg(potential, Decay(0.2)).tolist() == [0.0] * 5
