"""Weights against R's survey package; the data and its source: tests/reference/api_schools.py."""

import numpy as np
import pytest

from planner.survey.calibration import (
    adjust_for_response,
    calibrate_bounded,
    calibrate_linear,
    calibrate_raking,
    kish_design_effect,
    post_stratify,
    rake,
)
from planner.survey.estimators import Calibrated, Sample, means, totals
from planner.survey.jackknife import jackknife_multipliers, jackknife_variance
from planner.survey.known_counts import cut_rows
from tests.reference.api_schools import (
    LEVELS,
    clustered,
    clustered_design,
    codes,
    floats,
    indicators,
    levels_margin,
    met_margin,
    stratified,
)

SCHOOLS = clustered()
BASE = SCHOOLS["pw"].to_numpy()
INDEX, PUPILS = floats(SCHOOLS, "api00"), floats(SCHOOLS, "enroll")
LEVEL, MET = levels_margin(SCHOOLS), met_margin(SCHOOLS)
NAMES = ("schools", "high", "middle", "api99")
# In R it is calibrate(dclus1, ~stype+api99, c(6194, 755, 1018, 3914069))
KNOWN = np.column_stack([np.ones(183), LEVEL.cell == 1, LEVEL.cell == 2, floats(SCHOOLS, "api99")])
TOTALS = np.array([6194.0, 755.0, 1018.0, 3914069.0])


def sample(weights, known):
    return Sample.whole(weights, clustered_design(SCHOOLS), Calibrated(known, BASE))


def one(estimates):
    return estimates.value.item(), estimates.standard_error.item()


def test_post_stratification_by_level():
    # In R it is svymean(~api00), svytotal(~enroll) after postStratify(dclus1, ~stype, pop.types)
    weighed = sample(post_stratify(BASE, LEVEL), indicators(LEVEL))
    assert one(means(INDEX, weighed)) == pytest.approx((642.310788212, 23.9204864451), rel=1e-11)
    assert one(totals(PUPILS, weighed)) == pytest.approx((3680892.94512, 406292.636295), rel=1e-11)


def test_a_total_that_was_met_has_no_error():
    weighed = sample(post_stratify(BASE, LEVEL), indicators(LEVEL))
    found = totals(indicators(LEVEL), weighed)
    assert found.value[0] == pytest.approx(LEVEL.counts, rel=1e-12)
    assert found.standard_error[0] == pytest.approx(np.zeros(3), abs=1e-9)


def test_raking_by_level_and_target():
    # In R it is rake(dclus1, list(~stype, ~sch.wide), ..., control = list(epsilon = 1e-10));
    # with the package's default epsilon of one school the total is 3647300.03, not converged
    weights = rake(BASE, [LEVEL, MET])
    weighed = sample(weights, indicators(LEVEL, MET))
    assert one(means(INDEX, weighed)) == pytest.approx((641.230320927, 23.7036168879), rel=1e-9)
    assert one(totals(PUPILS, weighed)) == pytest.approx((3647280.14807, 400603.256862), rel=1e-9)
    assert weights == pytest.approx(rake(BASE, [MET, LEVEL]), rel=1e-9)


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
    assert rake(BASE, [LEVEL, MET])[there] == pytest.approx(weight, rel=1e-9)


def test_linear_calibration_to_levels_and_last_years_index():
    weights = calibrate_linear(BASE, KNOWN, TOTALS, NAMES)
    assert weights.min() == pytest.approx(14.1680975228, rel=1e-11)
    assert weights.max() == pytest.approx(62.0515251410, rel=1e-11)


def test_raking_calibration_to_the_same():
    # In R it is calibrate(..., calfun = "raking"); svymean(~api00)
    weighed = sample(calibrate_raking(BASE, KNOWN, TOTALS, NAMES), KNOWN)
    assert one(means(INDEX, weighed)) == pytest.approx((665.393795995, 3.43775353949), rel=1e-7)


def test_bounded_calibration_to_the_same():
    # In R it is calibrate(..., calfun = "logit", bounds = c(0.4, 2.5)); svytotal(~enroll)
    weights = calibrate_bounded(BASE, KNOWN, TOTALS, NAMES, (0.4, 2.5))
    factor = weights / BASE
    assert (factor.min(), factor.max()) == pytest.approx((0.558797267661, 1.89858632223), rel=1e-7)
    found = totals(PUPILS, sample(weights, KNOWN))
    assert one(found) == pytest.approx((3629327.71307, 385044.679242), rel=1e-7)


def test_cut_weights_keep_their_sum():
    # In R it is trimWeights(raked, upper = 45): the excess in equal parts to those not cut
    raked = rake(BASE, [LEVEL, MET])[None, :]
    cut = cut_rows(raked, np.ones_like(raked), np.array([45.0]))[0]
    assert cut.sum() == pytest.approx(6194.0, rel=1e-12)
    assert cut.min() == pytest.approx(30.8492629294, rel=1e-9)
    assert cut @ PUPILS[:, 0] == pytest.approx(3578133.39016, rel=1e-9)


def test_design_effect_of_unequal_weights():
    weights = stratified()["pw"].to_numpy()
    assert kish_design_effect(weights) == pytest.approx(1.18637098474, rel=1e-11)
    assert 200 / kish_design_effect(weights) == pytest.approx(168.581331281, rel=1e-11)


def test_response_classes():
    schools = stratified()
    weak = (schools["api00"] < 600) & (schools["awards"] == "No")
    answered = (~weak).to_numpy() * 1.0
    level, base = codes(schools["stype"], LEVELS), schools["pw"].to_numpy()
    weights = adjust_for_response(base, level, answered)
    factors = [(weights / base)[(level == i) & (answered > 0.0)].max() for i in range(3)]
    assert factors == pytest.approx([10 / 9, 10 / 7, 50 / 37], rel=1e-12)
    mean = weights @ floats(schools, "api00")[:, 0] / weights.sum()
    assert mean == pytest.approx(688.803176298, rel=1e-11)
    assert weights @ floats(schools, "enroll")[:, 0] == pytest.approx(3528684.05631, rel=1e-11)


@pytest.mark.parametrize(
    ("finite", "weigh", "total", "error"),
    [
        # In R it is as.svrepdesign(dclus1, type = "JK1"), then rake or postStratify
        (False, lambda w: rake(w, [LEVEL, MET]), 3647280.14807, 468244.543464),
        (True, lambda w: rake(w, [LEVEL, MET]), 3647280.14807, 463582.184944),
        (True, lambda w: post_stratify(w, LEVEL), 3680892.94512, 473431.35678),
    ],
)
def test_jackknife_with_the_weighting_redone(finite, weigh, total, error):
    design = clustered_design(SCHOOLS, finite=finite)
    replicates = jackknife_multipliers(design) * BASE
    found = np.array([weigh(weights) @ PUPILS[:, 0] for weights in replicates])
    assert found[0] == pytest.approx(total, rel=1e-9)
    # R's default centres at the mean of the replicates, the planner at the full sample
    about_mean = np.concatenate([[found[1:].mean()], found[1:]])
    assert np.sqrt(jackknife_variance(about_mean, design)) == pytest.approx(error, rel=1e-8)
    assert jackknife_variance(found, design) > error**2
