"""Lots with too many failures: the exact test, its correction, its power."""

import numpy as np
import polars as pl
import pytest
from scipy import stats

from planner.field.case_list import find_alerts, holm, more_than_chance


def lots(*rows, kind="worm delivery"):
    return pl.DataFrame(
        {
            "lot_kind": kind,
            "lot_id": [str(place) for place in range(len(rows))],
            "bins_count": [count for count, _ in rows],
            "failed_count": [failed for _, failed in rows],
        }
    )


def test_the_test_is_fishers_on_his_tea():
    # Fisher, R.A. (1935), The Design of Experiments, chapter 2 (from memory): three or more of
    # four cups right has chance 17 in 70
    assert more_than_chance(np.array([4, 4]), np.array([3, 1]))[0] == pytest.approx(17 / 70)


def test_the_test_is_fishers_on_convictions_of_twins():
    # Fisher (1962), Confidence limits for a cross-product ratio, as in R's help of fisher.test
    # (from memory): of 13 identical twins 10 were convicted, of 17 others 2; one-sided 0.0004652
    chance = more_than_chance(np.array([13, 17]), np.array([10, 2]))[0]
    assert chance == pytest.approx(0.0004652, abs=5e-8)


def test_chances_are_those_of_the_hypergeometric_law_for_several_lots():
    bins, failed = np.array([40, 30, 50]), np.array([7, 1, 3])
    found = more_than_chance(bins, failed)
    for place in range(3):
        table = [
            [failed[place], bins[place] - failed[place]],
            [failed.sum() - failed[place], bins.sum() - bins[place] - failed.sum() + failed[place]],
        ]
        fishers = stats.fisher_exact(table, alternative="greater").pvalue
        assert found[place] == pytest.approx(fishers)


def test_holms_steps_on_chances_worked_by_hand():
    # 5 x 0.005, 4 x 0.011, 3 x 0.02, then never less: 2 x 0.04 and 1 x 0.13
    found = holm(np.array([0.13, 0.011, 0.02, 0.005, 0.04]))
    assert found.tolist() == pytest.approx([0.13, 0.044, 0.06, 0.025, 0.08])


def test_a_lot_that_fails_far_more_often_is_found_and_no_other():
    found = find_alerts(lots((42, 13), (48, 3), (48, 0), (40, 1), (50, 2)))
    assert found.filter("is_alert")["lot_id"].to_list() == ["0"]


def test_one_lot_alone_is_never_alarming():
    assert not find_alerts(lots((40, 30)))["is_alert"].any()


def test_kinds_are_corrected_apart():
    both = pl.concat([lots((40, 9), (40, 2)), lots((40, 9), (40, 2), kind="model")])
    found = find_alerts(both)
    assert found["corrected"].to_list()[:2] == found["corrected"].to_list()[2:]


def test_false_alarms_are_as_rare_as_said():
    rng = np.random.default_rng(4)
    bins = np.full(12, 45)
    failed = rng.binomial(bins, 0.06, size=(3000, 12))
    alarms = [holm(more_than_chance(bins, one)).min() <= 0.05 for one in failed]
    # exact tests of small counts stay below their level
    assert np.mean(alarms) <= 0.05 + 3.0 * np.sqrt(0.05 * 0.95 / 3000)


def test_the_power_printed_is_that_of_simulated_lots():
    rows = ((45, 0), *(((45, 3),) * 11))
    told = find_alerts(lots(*rows))["power_3"][0]
    rng = np.random.default_rng(8)
    failed = np.array([one for _, one in rows])
    bins, rate = np.full(12, 45), 3.0 * failed[1:].sum() / (45 * 11)
    found = []
    for one in rng.binomial(45, rate, size=2000):
        failed[0] = one
        found.append(more_than_chance(bins, failed)[0] <= 0.05 / 12)
    assert told == pytest.approx(np.mean(found), abs=0.035)
