"""Weights and replicates of a round against R's survey package and textbooks.

The schools and their source: tests/reference/api_schools.py. What is tried is what `report`
runs: replicate multipliers by stratum and cluster, raking in every replicate, cut weights.
Errors over replicates hold to a few parts in a hundred: with R replicates an error has a
relative standard error near 1 / sqrt(2 R). Students in suites: S. Lohr, Sampling: Design and
Analysis, example 5.2 (numbers from memory; its total of 1130.4 and error of 67.17 come out).
"""

import numpy as np
import pytest

from planner.survey.calibration import kish_design_effect, rake
from planner.survey.known_counts import cut_rows
from tests.reference.api_schools import (
    clustered,
    clustered_design,
    floats,
    levels_margin,
    met_margin,
    stratified,
    stratified_design,
)
from tests.unit.survey.replicate_rows import gamma_multipliers

DISTRICTS = clustered()
BASE = DISTRICTS["pw"].to_numpy()
INDEX, PUPILS = (floats(DISTRICTS, name)[:, 0] for name in ("api00", "enroll"))
LEVEL, MET = levels_margin(DISTRICTS), met_margin(DISTRICTS)
REPLICATES = 4000
NEAR = 0.05
"""Four standard errors of an error over 4,000 replicates are 0.045 of it."""


def one_row(margins):
    return rake(BASE[None, :], margins)[0]


def replicates(stratum, share, unit, seed=1):
    units = stratum.size if unit is None else unit.max() + 1
    uniforms = np.random.default_rng(seed).random((REPLICATES, units))
    by_row = uniforms if unit is None else uniforms[:, unit]
    return gamma_multipliers(by_row, stratum, share, unit)


def test_post_stratification_by_level():
    # In R it is svymean(~api00), svytotal(~enroll) after postStratify(dclus1, ~stype, pop.types)
    weights = one_row([LEVEL])
    assert weights @ INDEX / weights.sum() == pytest.approx(642.310788212, rel=1e-11)
    assert weights @ PUPILS == pytest.approx(3680892.94512, rel=1e-11)


def test_raking_by_level_and_target():
    # In R it is rake(dclus1, list(~stype, ~sch.wide), ..., control = list(epsilon = 1e-10));
    # with the package's default epsilon of one school the total is 3647300.03, not converged
    weights = one_row([LEVEL, MET])
    assert weights @ INDEX / weights.sum() == pytest.approx(641.230320927, rel=1e-9)
    assert weights @ PUPILS == pytest.approx(3647280.14807, rel=1e-9)
    assert weights == pytest.approx(one_row([MET, LEVEL]), rel=1e-9)


@pytest.mark.parametrize(
    ("level", "met", "weight"),
    [
        (0, 0, 39.839236246935),
        (0, 1, 29.870675492628),
        (1, 0, 67.125529241263),
        (1, 1, 50.329401116241),
        (2, 0, 49.069072164124),
        (2, 1, 36.791024864380),
    ],
)
def test_raked_weight_of_each_cell(level, met, weight):
    there = (LEVEL.cell == level) & (MET.cell == met)
    assert one_row([LEVEL, MET])[there] == pytest.approx(weight, rel=1e-9)


def test_cut_weights_keep_their_sum():
    # In R it is trimWeights(raked, upper = 45): the excess in equal parts to those not cut
    raked = one_row([LEVEL, MET])[None, :]
    cut = cut_rows(raked, np.ones_like(raked), np.array([45.0]))[0]
    assert cut.sum() == pytest.approx(6194.0, rel=1e-12)
    assert cut.min() == pytest.approx(30.8492629294, rel=1e-9)
    assert cut @ PUPILS == pytest.approx(3578133.39016, rel=1e-9)


def test_design_effect_of_unequal_weights():
    weights = stratified()["pw"].to_numpy()
    assert kish_design_effect(weights) == pytest.approx(1.18637098474, rel=1e-11)
    assert 200 / kish_design_effect(weights) == pytest.approx(168.581331281, rel=1e-11)


def test_errors_of_a_stratified_sample():
    # In R it is svymean(~api00, dstrat), svytotal(~enroll), svyratio(~api.stu, ~enroll)
    schools = stratified()
    weights = schools["pw"].to_numpy() * replicates(*stratified_design(schools), None)
    index, pupils, tested = (floats(schools, c)[:, 0] for c in ("api00", "enroll", "api_stu"))
    for found, value, error in (
        (weights @ index / weights.sum(axis=1), 662.287363159, 9.40894080278),
        (weights @ pupils, 3687177.53244, 114641.716101),
        ((weights @ tested) / (weights @ pupils), 0.836956886941, 0.00775710316664),
    ):
        assert found[0] == pytest.approx(value, rel=1e-11)
        assert found[1:].std() == pytest.approx(error, rel=NEAR)


def test_errors_of_a_sample_of_districts():
    # In R it is svymean(~api00, dclus1), svyratio(~api.stu, ~enroll). Fifteen districts of
    # very unequal size: the ratios' bend makes replicates differ by a few parts in a hundred
    weights = BASE * replicates(*clustered_design(DISTRICTS))
    tested = floats(DISTRICTS, "api_stu")[:, 0]
    for found, value, error in (
        (weights @ INDEX / weights.sum(axis=1), 644.169398907, 23.5422406938),
        ((weights @ tested) / (weights @ PUPILS), 0.849708741724, 0.00838629716939),
    ):
        assert found[0] == pytest.approx(value, rel=1e-11)
        assert found[1:].std() == pytest.approx(error, rel=0.15)


def test_errors_with_raking_redone_in_every_replicate():
    # In R it is svymean(~api00) after rake: 641.230320927 (23.7036168879); the jackknife of the
    # same weighting, as.svrepdesign(type = "JK1") then rake, errs by more
    multipliers = replicates(*clustered_design(DISTRICTS), seed=2)
    weights = rake(BASE * multipliers, [LEVEL, MET])
    mean = weights @ INDEX / weights.sum(axis=1)
    assert mean[0] == pytest.approx(641.230320927, rel=1e-9)
    assert mean[1:].std() == pytest.approx(23.7036168879, rel=0.15)
    assert weights @ np.eye(3)[LEVEL.cell] == pytest.approx(np.tile(LEVEL.counts, (4001, 1)))


def test_students_in_suites():
    suites = np.array(
        [
            [3.08, 2.60, 3.44, 3.04],
            [2.36, 3.04, 3.28, 2.68],
            [2.00, 2.56, 2.52, 1.88],
            [3.00, 2.88, 3.44, 3.64],
            [2.68, 1.92, 3.28, 3.20],
        ]
    )
    for share, error in ((0.0, 67.1666583954), (0.05, 65.4659606208)):
        rows = replicates(np.zeros(20, dtype=int), np.array([share]), np.repeat(np.arange(5), 4))
        totals = 20.0 * rows @ suites.ravel()
        assert totals[0] == pytest.approx(1130.4, rel=1e-12)
        assert totals[1:].std() == pytest.approx(error, rel=NEAR)


@pytest.mark.parametrize(("finite", "variance"), [(False, 787.0), (True, 588.0)])
def test_a_total_worked_by_hand(finite, variance):
    """Strata {1, 4, 6} of weight 5 and {2, 3, 7, 8} of weight 3: Cochran (1977), section 5.4."""
    values, stratum = np.array([1.0, 4.0, 6.0, 2.0, 3.0, 7.0, 8.0]), np.repeat([0, 1], [3, 4])
    share = np.array([1 / 5, 1 / 3]) if finite else np.zeros(2)
    totals = replicates(stratum, share, None, seed=3) @ (np.repeat([5.0, 3.0], [3, 4]) * values)
    assert totals[0] == pytest.approx(115.0, rel=1e-12)
    assert totals[1:].var() == pytest.approx(variance, rel=2 * NEAR)
