"""Sample sizes and allocation against textbooks, other solvers and exhaustive search.

Strata are the school levels of California's Academic Performance Index 2000 (its R data set
`apipop`, Debian r-cran-survey 4.1-1): counts, and the standard deviations of the index and of
enrolment that R gives over schools whose enrolment is known.
"""

from itertools import product

import numpy as np
import pytest

from planner.arrays import NORMAL_95
from planner.survey.drawing import cheapest_for_targets, share_out_whole
from planner.survey.sample_size import (
    answers_for_share,
    cluster_design_effect,
    households_to_invite,
)

COUNTS = np.array([4421.0, 755.0, 1018.0])
INDEX_SD = np.array([131.20923091917, 107.46671937278, 124.85522489792])
ENROLMENT_SD = np.array([175.87471015620, 688.31902206256, 438.61170543782])


def test_answers_for_a_margin_of_five_points():
    # Cochran (1977), Sampling Techniques, section 4.4
    assert answers_for_share(0.05) == pytest.approx(384.145882069, rel=1e-11)
    answers = answers_for_share(0.05, 3200.0)
    assert answers == pytest.approx(343.069152940, rel=1e-11)
    assert households_to_invite(answers, 1.0) == 344


def test_answers_of_a_worked_example():
    # Cochran (1977), section 4.4: z = 2, N = 3200, n = 356 (printed value from memory)
    with_his_z = 0.05 * NORMAL_95 / 2.0
    assert answers_for_share(with_his_z) == pytest.approx(400.0, rel=1e-12)
    assert answers_for_share(with_his_z, 3200.0) == pytest.approx(355.654348430, rel=1e-11)


def test_invitations_are_rounded_once():
    # rounding at every step would give 1225
    answers = answers_for_share(0.05, 3200.0, design_effect=1.5)
    assert answers / 0.4 == pytest.approx(1221.05520258, rel=1e-11)
    assert households_to_invite(answers, 0.4) == 1222


def test_design_effect_of_clusters_without_likeness_is_one():
    assert cluster_design_effect(8.0, 0.0) == 1.0
    assert cluster_design_effect(8.0, 1.0) == 8.0


def test_neyman_allocation_of_two_hundred():
    # real-valued it is 147.168, 20.585, 32.247 (Cochran 1977, section 5.5)
    best = share_out_whole(200, COUNTS * INDEX_SD, np.full(3, 2), COUNTS.astype(int))
    assert best.tolist() == [147, 21, 32]


def test_two_targets_at_once():
    # least sum with errors of 1% of the index and 2% of enrolment, both binding: a general
    # solver (sequential quadratic programming at 1e-14) gives these, in all 462.570920
    best = cheapest_for_targets(
        COUNTS,
        np.column_stack([INDEX_SD, ENROLMENT_SD]),
        np.array([4117230.0, 3835327.741845878]),
        np.array([0.01, 0.02]),
        names=["index", "enrolment"],
        least=np.full(3, 2.0),
        most=COUNTS,
    )
    assert best == pytest.approx([209.017271, 136.204341, 117.349308], rel=1e-8)
    assert np.ceil(best).tolist() == [210, 137, 118]


@pytest.mark.parametrize(
    ("worth", "least", "most"),
    [
        ([5.0, 3.0, 2.0], [1, 1, 1], [12, 12, 12]),
        ([9.0, 1.0, 1.0], [1, 1, 1], [4, 12, 12]),
        ([9.0, 0.2, 1.0], [2, 3, 1], [12, 12, 5]),
        ([1.0, 1.0, 1.0], [1, 1, 1], [12, 12, 12]),
    ],
)
def test_no_other_whole_allocation_has_a_smaller_variance(worth, least, most):
    answers = 12
    sizes = [range(low, high + 1) for low, high in zip(least, most, strict=True)]
    worth, least, most = np.array(worth), np.array(least), np.array(most)
    every = np.array([n for n in product(*sizes) if sum(n) == answers])
    best = (worth**2 / every).sum(axis=1).min()
    chosen = share_out_whole(answers, worth, least, most)
    assert chosen.sum() == answers
    assert (worth**2 / chosen).sum() == pytest.approx(best, rel=1e-12)
