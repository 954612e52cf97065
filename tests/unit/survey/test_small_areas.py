"""Small areas: limits of borrowing, and draws that hold the truth of simulated areas."""

import numpy as np
import pytest

from planner.survey.small_areas import AreaModel, draw_effects, effective_weights


def simulated(rng, areas, answers, between, within):
    """Areas with normal levels about 2, and answers about those."""
    truth = 2.0 + between * rng.standard_normal(areas)
    codes = np.repeat(np.arange(areas), answers)
    values = truth[codes] + within * rng.standard_normal(codes.size)
    return truth, codes, values


def effects(values, variance, codes, areas, scale=1.0, draws=400, seed=0):
    model = AreaModel.of(values, variance, np.ones((codes.size, 1)), codes, areas)
    return draw_effects(
        model, np.ones((areas, 1)), np.arange(areas), scale, draws, np.random.default_rng(seed)
    )


@pytest.mark.parametrize("areas", [6, 12, 40])
@pytest.mark.parametrize("between", [0.0, 0.3, 1.0])
def test_intervals_of_areas_hold_the_truth(areas, between) -> None:
    """95% intervals over simulated towns; 90% is four standard errors below for 600 areas."""
    rng = np.random.default_rng([areas, int(10 * between)])
    held, widths, errors = [], [], []
    for town in range(-(-600 // areas)):
        answers = rng.integers(2, 15, areas)
        truth, codes, values = simulated(rng, areas, answers, between, 1.0)
        drawn = effects(values, np.ones(codes.size), codes, areas, seed=town).predictor
        low, high = np.percentile(drawn[1:], (2.5, 97.5), axis=0)
        held.append((low <= truth) & (truth <= high))
        widths.append((high - low).mean())
        errors.append(drawn[0] - truth)
    assert np.mean(np.concatenate(held)) > 0.90
    needed = 2 * 1.96 * np.concatenate(errors).std()
    # where areas do not differ at all, a spread that is never nothing costs width
    assert np.mean(widths) < (1.2 if between else 3.0) * needed


def test_many_answers_are_believed_and_none_borrow_all() -> None:
    codes = np.repeat([0, 1, 2, 3], [4000, 400, 3, 5])
    values = np.repeat([1.0, 3.0, 2.0, 2.0], [4000, 400, 3, 5])
    found = effects(values, np.full(codes.size, 1.0), codes, 5)
    assert found.predictor[0, 0] == pytest.approx(1.0, abs=0.01)
    assert found.predictor[0, 1] == pytest.approx(3.0, abs=0.05)
    assert found.own_weight[0] > 0.99
    assert found.own_weight[4] == 0.0
    assert found.predictor[1:, 4].std() > 3 * found.predictor[1:, 1].std()


def test_noisier_answers_are_shrunk_further() -> None:
    codes = np.arange(6)
    values = np.array([0.0, 4.0, 2.0, 2.0, 2.0, 2.0])
    near, far = (
        effects(values, np.full(6, variance), codes, 6).predictor[0] for variance in (4.0, 0.1)
    )
    assert far[1] - far[0] > near[1] - near[0] > 0.0


def test_variance_between_areas_is_never_nothing() -> None:
    codes = np.repeat(np.arange(5), 20)
    found = effects(np.zeros(100), np.ones(100), codes, 5)
    assert found.between_sd[0] > 0.0
    assert (found.between_sd[1:] > 0.0).all()


def test_moving_all_answers_moves_all_areas_alike() -> None:
    rng = np.random.default_rng(5)
    _, codes, values = simulated(rng, 8, 6, 0.5, 1.0)
    before, after = (effects(v, np.ones(48), codes, 8) for v in (values, values + 10.0))
    assert after.predictor == pytest.approx(before.predictor + 10.0)


def test_effective_weights_count_equal_answers_once_each() -> None:
    """Kish: (sum w)² / sum w², which is the count where all weigh alike."""
    weights, codes = np.array([2.0, 2.0, 2.0, 1.0, 3.0]), np.array([0, 0, 0, 1, 1])
    sums = np.bincount(codes, effective_weights(weights, codes, 2))
    assert sums == pytest.approx([3.0, 16.0 / 10.0])
