"""Regression and ratio estimates of double sampling against published and computed answers.

Academic Performance Index of 200 Californian schools drawn in 2000 (California Department
of Education; the sample `apistrat` of Lumley, T., Complex Surveys, Wiley 2010, appendix A),
taken as a simple random sample of N = 6194; every fourth is the second phase. Expected
numbers: the formulas of Cochran (1977), sections 12.6 and 12.9, computed apart; the mean
of the regression also with R's package survey 4.1, twophase() and calibrate().
Dead trees on photographs and in the field: Lohr, S.L. (1999), Sampling: Design and Analysis,
example 3.6, which prints 11.99 and 0.408.
"""

import numpy as np
import pytest

from planner.survey.double_sampling import choose_estimator, regression_rows
from tests.unit.survey.replicate_rows import gamma_multipliers

SCHOOLS = 6194
REPLICATES = 4000
SCORE_1999 = np.array(
    [
        816.0,
        476.0,
        544.0,
        457.0,
        659.0,
        780.0,
        787.0,
        731.0,
        508.0,
        658.0,
        479.0,
        499.0,
        460.0,
        406.0,
        532.0,
        440.0,
        572.0,
        564.0,
        816.0,
        478.0,
        685.0,
        657.0,
        739.0,
        403.0,
        504.0,
        755.0,
        673.0,
        690.0,
        687.0,
        642.0,
        707.0,
        449.0,
        835.0,
        525.0,
        589.0,
        740.0,
        679.0,
        641.0,
        620.0,
        701.0,
        863.0,
        485.0,
        858.0,
        523.0,
        780.0,
        691.0,
        665.0,
        491.0,
        677.0,
        854.0,
        475.0,
        559.0,
        575.0,
        652.0,
        470.0,
        670.0,
        554.0,
        621.0,
        803.0,
        726.0,
        703.0,
        579.0,
        526.0,
        556.0,
        495.0,
        689.0,
        848.0,
        703.0,
        845.0,
        436.0,
        787.0,
        401.0,
        500.0,
        603.0,
        728.0,
        554.0,
        563.0,
        442.0,
        673.0,
        409.0,
        694.0,
        478.0,
        852.0,
        723.0,
        798.0,
        657.0,
        766.0,
        874.0,
        760.0,
        403.0,
        538.0,
        566.0,
        568.0,
        696.0,
        595.0,
        750.0,
        499.0,
        595.0,
        524.0,
        678.0,
        856.0,
        669.0,
        535.0,
        495.0,
        533.0,
        527.0,
        817.0,
        867.0,
        633.0,
        801.0,
        737.0,
        529.0,
        631.0,
        524.0,
        621.0,
        812.0,
        495.0,
        420.0,
        491.0,
        430.0,
        890.0,
        660.0,
        584.0,
        583.0,
        713.0,
        524.0,
        641.0,
        637.0,
        536.0,
        698.0,
        739.0,
        384.0,
        634.0,
        631.0,
        772.0,
        651.0,
        497.0,
        570.0,
        535.0,
        471.0,
        783.0,
        455.0,
        750.0,
        694.0,
        592.0,
        671.0,
        858.0,
        680.0,
        562.0,
        383.0,
        650.0,
        854.0,
        671.0,
        732.0,
        541.0,
        774.0,
        688.0,
        578.0,
        709.0,
        616.0,
        622.0,
        575.0,
        744.0,
        497.0,
        398.0,
        760.0,
        636.0,
        606.0,
        545.0,
        703.0,
        627.0,
        607.0,
        575.0,
        580.0,
        509.0,
        574.0,
        726.0,
        410.0,
        639.0,
        625.0,
        574.0,
        484.0,
        799.0,
        790.0,
        646.0,
        642.0,
        672.0,
        747.0,
        601.0,
        706.0,
        504.0,
        447.0,
        524.0,
        814.0,
        664.0,
        424.0,
        620.0,
        597.0,
        500.0,
        609.0,
    ]
)
SCORE_2000_OF_EVERY_FOURTH = np.array(
    [
        840.0,
        720.0,
        592.0,
        467.0,
        638.0,
        705.0,
        509.0,
        751.0,
        832.0,
        694.0,
        870.0,
        782.0,
        679.0,
        616.0,
        559.0,
        740.0,
        525.0,
        893.0,
        539.0,
        581.0,
        712.0,
        836.0,
        784.0,
        632.0,
        553.0,
        861.0,
        588.0,
        667.0,
        713.0,
        509.0,
        893.0,
        765.0,
        669.0,
        610.0,
        542.0,
        814.0,
        610.0,
        617.0,
        723.0,
        693.0,
        660.0,
        421.0,
        556.0,
        606.0,
        706.0,
        601.0,
        631.0,
        667.0,
        546.0,
        646.0,
    ]
)
PAIRED = SCORE_1999[::4]
PHOTO = np.array([10, 12, 7, 13, 13, 6, 17, 16, 15, 10, 14, 12, 10.0])
PHOTO = np.r_[PHOTO, 5, 12, 10, 10, 9, 6, 11, 7, 9, 11, 10, 10]
FIELD = np.array([15, 14, 9, 14, 8, 5, 18, 15, 13, 15, 11, 15, 12.0])
FIELD = np.r_[FIELD, 8, 13, 9, 11, 12, 9, 12, 13, 11, 10, 9, 8]


def replicates(households, seed):
    uniforms = np.random.default_rng(seed).random((REPLICATES, households))
    return gamma_multipliers(uniforms, np.zeros(households, dtype=int), np.zeros(1))


def test_both_estimates_of_cochran_and_their_errors_over_replicates():
    """A pair's weight moves with that of its report, as in a survey round.

    Cochran's errors are 8.7277 and 8.8728 with N = 6194; without it, 8.8715 and 9.0143:
    ``s_y² / N`` is 2.53 (s_y² of the fifty second scores). Some 1/50 of bend is allowed.
    """
    weights = replicates(SCORE_1999.size, 1)
    of_pairs = weights[:, ::4]
    mean = weights @ SCORE_1999 / weights.sum(axis=1)
    intercept, slope = regression_rows(PAIRED, SCORE_2000_OF_EVERY_FOURTH, of_pairs)
    by_line = intercept + slope * mean
    by_ratio = (of_pairs @ SCORE_2000_OF_EVERY_FOURTH) / (of_pairs @ PAIRED) * mean
    without_n = SCORE_2000_OF_EVERY_FOURTH.var(ddof=1) / SCHOOLS
    for found, value, error in (
        (by_line, 656.374565267, 8.72769551439),
        (by_ratio, 655.041367364, 8.87284460397),
    ):
        assert found[0] == pytest.approx(value, rel=1e-11)
        assert found[1:].std() == pytest.approx(np.sqrt(error**2 + without_n), rel=0.06)


def test_regression_on_a_known_mean_is_the_book_s():
    """Lohr's 11.99, error 0.408 by n - 1; over replicates the error follows the scatter (HC)."""
    intercept, slope = regression_rows(PHOTO, FIELD, replicates(PHOTO.size, 2))
    found = intercept + slope * 11.3
    assert found[0] == pytest.approx(11.9892920354, rel=1e-10)
    of_25_in_100 = np.sqrt(1.0 - 25 / 100)
    assert found[1:].std() * of_25_in_100 == pytest.approx(0.408, rel=0.1)


def test_rows_of_weights_give_the_same_line():
    intercept, slope = regression_rows(PHOTO, FIELD, np.ones((2, PHOTO.size)))
    assert slope == pytest.approx([0.613274336283] * 2, rel=1e-10)
    assert intercept == pytest.approx([5.05929203540] * 2, rel=1e-10)


def test_the_rule_takes_the_ratio_of_few_pairs_and_the_regression_where_the_line_misses_zero():
    assert choose_estimator(PHOTO, FIELD) == "ratio"
    assert choose_estimator(PAIRED, SCORE_2000_OF_EVERY_FOURTH) == "regression"
