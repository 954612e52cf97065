"""Estimates and design errors against R's survey package and textbooks.

The schools and their source: tests/reference/api_schools.py. The Stata example is the data set
`fpc` of the same package. The students are example 5.2 of S. Lohr, Sampling: Design and
Analysis (numbers from memory; its total of 1130.4 and error of 67.17 come out).
"""

import numpy as np
import polars as pl
import pytest

from planner.survey.estimators import Sample, contrast, means, ratios, shares, totals
from planner.survey.intervals import korn_graubard_interval, t_interval
from planner.survey.jackknife import jackknife_multipliers, jackknife_variance
from planner.survey.linearisation import Design, covariance
from tests.reference.api_schools import (
    LEVELS,
    clustered,
    clustered_design,
    codes,
    floats,
    stratified,
    stratified_design,
)

SCHOOLS = stratified()
WEIGHTS = SCHOOLS["pw"].to_numpy()
DESIGN = stratified_design(SCHOOLS)
WHOLE = Sample.whole(WEIGHTS, DESIGN)
AWARD = codes(SCHOOLS["awards"], ("No", "Yes"))
BY_AWARD = Sample(WEIGHTS, DESIGN, AWARD, 2)
INDEX, PUPILS = floats(SCHOOLS, "api00"), floats(SCHOOLS, "enroll")
MET = (SCHOOLS["sch_wide"] == "Yes").to_numpy()[:, None] * 1.0

DISTRICTS = clustered()
BY_DISTRICT = Sample.whole(DISTRICTS["pw"].to_numpy(), clustered_design(DISTRICTS))


def found(estimates):
    return [*estimates.value.ravel(), *estimates.standard_error.ravel()]


def test_mean_of_a_stratified_sample_with_its_interval():
    # In R it is svymean(~api00, dstrat); confint(., df = 197)
    mean = means(INDEX, WHOLE)
    assert found(mean) == pytest.approx([662.287363159, 9.40894080278], rel=1e-11)
    assert mean.degrees_of_freedom.item() == 197
    ends = mean.low.item(), mean.high.item()
    assert ends == pytest.approx((643.732188272, 680.842538047), rel=1e-11)


def test_total_and_ratio_of_a_stratified_sample():
    # In R it is svytotal(~enroll, dstrat); svyratio(~api.stu, ~enroll, dstrat)
    assert found(totals(PUPILS, WHOLE)) == pytest.approx([3687177.53244, 114641.716101], rel=1e-11)
    tested = ratios(floats(SCHOOLS, "api_stu"), PUPILS, WHOLE)
    assert found(tested) == pytest.approx([0.836956886941, 0.00775710316664], rel=1e-11)


def test_means_by_level():
    # In R it is svyby(~api00, ~stype, dstrat, svymean)
    by_level = Sample(WEIGHTS, DESIGN, codes(SCHOOLS["stype"], LEVELS), 3)
    expected = [674.43, 625.82, 636.6, 12.3824797939, 14.9371291854, 16.2147073082]
    assert found(means(INDEX, by_level)) == pytest.approx(expected, rel=1e-11)


def test_totals_and_means_of_domains_that_cross_the_strata():
    # In R it is svyby(~enroll, ~awards, dstrat, svytotal); svyby(~api00, ~awards, dstrat, svymean)
    pupils = [1627217.1323, 2059960.40014, 144256.009861, 140944.745764]
    assert found(totals(PUPILS, BY_AWARD)) == pytest.approx(pupils, rel=1e-11)
    index = [633.734911659, 678.422405614, 15.334770976, 11.8566309874]
    assert found(means(INDEX, BY_AWARD)) == pytest.approx(index, rel=1e-11)


def test_difference_of_two_domains_keeps_their_covariance():
    # In R it is svycontrast(No - Yes) of the means; vcov of the totals
    in_domain = np.column_stack([AWARD == 0, AWARD == 1]) * 1.0
    both = covariance(WEIGHTS[:, None] * PUPILS * in_domain, DESIGN)
    assert both[0, 1] == pytest.approx(-13766247334.5, rel=1e-11)
    mean = means(INDEX, BY_AWARD).value[:, 0]
    linearised = in_domain * (INDEX - mean) / (WEIGHTS @ in_domain)
    _, error = contrast(np.array([1.0, -1.0]), linearised, WHOLE)
    assert mean[0] - mean[1] == pytest.approx(-44.687493955, rel=1e-10)
    assert error == pytest.approx(19.3989199333, rel=1e-11)


def test_share_with_its_intervals():
    # In R it is svymean(~sch.wide); svyciprop(method = "xlogit"), df = 197; method = "mean"
    share = shares(MET, WHOLE)
    assert found(share) == pytest.approx([0.827948011416, 0.0243447801131], rel=1e-11)
    logit = share.low.item(), share.high.item()
    assert logit == pytest.approx((0.774539654747, 0.870814854944), rel=1e-11)
    wald = t_interval(share.value, share.standard_error, np.array([[197.0]]))
    assert np.ravel(wald) == pytest.approx([0.779938180973, 0.875957841859], rel=1e-11)


def test_korn_graubard_interval_never_claims_more_answers_than_there_are():
    # the effective size exceeds 200 here; not cut, the ends would be 0.774171 and 0.873432
    share, error = found(means(MET, WHOLE))
    ends = korn_graubard_interval(
        np.array(share), np.array(error), np.array(197.0), np.array(200.0)
    )
    assert np.ravel(ends) == pytest.approx([0.768364258741, 0.877529789967], rel=1e-10)


def test_estimates_from_a_sample_of_districts():
    # In R it is svymean(~api00), svytotal(~enroll), svyratio(~api.stu, ~enroll) of dclus1
    index, pupils = floats(DISTRICTS, "api00"), floats(DISTRICTS, "enroll")
    mean = means(index, BY_DISTRICT)
    assert found(mean) == pytest.approx([644.169398907, 23.5422406938], rel=1e-11)
    ends = mean.low.item(), mean.high.item()
    assert ends == pytest.approx((593.676314463, 694.662483351), rel=1e-11)
    total = totals(pupils, BY_DISTRICT)
    assert found(total) == pytest.approx([3404940.13453, 932235.027041], rel=1e-11)
    tested = ratios(floats(DISTRICTS, "api_stu"), pupils, BY_DISTRICT)
    assert found(tested) == pytest.approx([0.849708741724, 0.00838629716939], rel=1e-11)


def test_domains_of_a_clustered_sample_agree_with_the_covariance():
    level = codes(DISTRICTS["stype"], LEVELS)
    sample = Sample(BY_DISTRICT.weights, BY_DISTRICT.design, level, 3)
    pupils = floats(DISTRICTS, "enroll")
    dense = covariance(sample.weights[:, None] * pupils * np.eye(3)[level], sample.design)
    error = totals(pupils, sample).standard_error[:, 0]
    assert error**2 == pytest.approx(np.diag(dense), rel=1e-11)


@pytest.mark.parametrize(("finite", "error"), [(True, 26.3293605895), (False, 26.5941613577)])
def test_jackknife_of_a_mean(finite, error):
    # In R it is as.svrepdesign(dclus1, type = "JK1"); svymean(~api00)
    design = clustered_design(DISTRICTS, finite=finite)
    weights = jackknife_multipliers(design) * DISTRICTS["pw"].to_numpy()
    mean = weights @ floats(DISTRICTS, "api00")[:, 0] / weights.sum(axis=1)
    assert mean[0] == pytest.approx(644.169398907, rel=1e-11)
    # R's default centres at the mean of the replicates, the planner at the full sample
    about_mean = np.concatenate([[mean[1:].mean()], mean[1:]])
    assert np.sqrt(jackknife_variance(about_mean, design)) == pytest.approx(error, rel=1e-11)
    assert jackknife_variance(mean, design) > error**2


@pytest.mark.parametrize(("finite", "error"), [(True, 0.61604071981), (False, 0.741268326769)])
def test_the_finite_population_example_of_a_manual(finite, error):
    # Stata Survey Data reference manual, svyset with fpc; survey::fpc, in single precision
    x = np.array([2.8, 4.1, 6.8, 6.8, 9.2, 3.7, 6.6, 4.2])[:, None]
    stratum, weight = np.repeat([0, 1], [5, 3]), np.repeat([3.0, 4.0], [5, 3])
    share = np.array([5 / 15, 3 / 12]) if finite else np.zeros(2)
    mean = means(x, Sample.whole(weight, Design(stratum, share)))
    assert found(mean) == pytest.approx([5.44814811813, error], rel=1e-8)


def test_students_in_suites():
    # Lohr example 5.2: five of 100 suites of four students
    suites = [
        [3.08, 2.60, 3.44, 3.04],
        [2.36, 3.04, 3.28, 2.68],
        [2.00, 2.56, 2.52, 1.88],
        [3.00, 2.88, 3.44, 3.64],
        [2.68, 1.92, 3.28, 3.20],
    ]
    grades, suite = np.ravel(suites)[:, None], np.repeat(np.arange(5), 4)
    one_stratum, weight = np.zeros(20, dtype=int), np.full(20, 20.0)
    endless = Sample.whole(weight, Design(one_stratum, np.array([0.0]), suite))
    assert found(totals(grades, endless)) == pytest.approx([1130.4, 67.1666583954], rel=1e-10)
    finite = Sample.whole(weight, Design(one_stratum, np.array([0.05]), suite))
    assert found(totals(grades, finite)) == pytest.approx([1130.4, 65.4659606208], rel=1e-10)
    assert found(means(grades, finite)) == pytest.approx([2.826, 0.163664901552], rel=1e-10)


def few_schools():
    """First 20 elementary, 10 high and one middle school."""
    return pl.concat(
        [
            SCHOOLS.filter(pl.col("stype") == level).head(count)
            for level, count in zip(LEVELS, (20, 10, 1), strict=True)
        ]
    )


@pytest.mark.parametrize(
    ("rule", "mean_error", "total_error"),
    [
        # In R it is survey.lonely.psu = "certainty", "average" and, for the mean, "adjust". That
        # package centres a total at 0 there (61667.93); the mean of all units gives 56034.13
        ("certainty", 23.5150507949, 55772.6055822),
        ("average", 28.7999378616, 68307.2126510),
        ("grand_mean", 23.6832968834, 56034.1255),
    ],
)
def test_a_stratum_with_one_unit(rule, mean_error, total_error):
    schools = few_schools()
    sample = Sample.whole(schools["pw"].to_numpy(), stratified_design(schools, single_unit=rule))
    mean = means(floats(schools, "api00"), sample)
    assert found(mean) == pytest.approx([642.168715422, mean_error], rel=1e-9)
    total = totals(floats(schools, "enroll"), sample)
    assert found(total) == pytest.approx([648378.927572, total_error], rel=2e-9)
    z = sample.weights[:, None] * floats(schools, "enroll")
    assert np.sqrt(covariance(z, sample.design)).item() == pytest.approx(total_error, rel=2e-9)


def test_numbers_with_a_large_common_part_keep_their_spread():
    # NIST Statistical Reference Datasets, NumAcc4 (certificate from memory): standard
    # deviation 0.1 exactly; a difference of sums of squares gives 0
    y = np.concatenate([[10000000.2], np.tile([10000000.1, 10000000.3], 500)])[:, None]
    design = Design(np.zeros(1001, dtype=int), np.array([0.0]))
    for variance in (
        covariance(y, design).item(),
        totals(y, Sample.whole(np.ones(1001), design)).standard_error.item() ** 2,
    ):
        assert np.sqrt(variance / 1001) == pytest.approx(0.1, rel=1e-7)
