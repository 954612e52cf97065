"""Asking some of the silent again, against the printed numbers of a handbook.

Valliant, R., Dever, J.A. and Kreuter, F., Practical Tools for Designing and Weighting Survey
Samples, Springer, examples 17.14 and 17.16, as in the output files of the book. Example 17.14:
coefficient of variation of a unit 3, response 0.7, wanted 0.1; 949 units, 0.8452 of the silent.
Example 17.16: coefficient of variation of a unit 1, response 0.5; 828 units, 0.7071 of the
silent, coefficient of variation 0.0382. Read on 29 November 2026.
"""

import numpy as np
import polars as pl
import pytest

from planner.survey.asked_rounds import AskedRound, PermanentNumbers
from planner.survey.sample_size import share_to_ask_again
from planner.survey.weights import weigh_rounds
from tests.unit.survey.test_weights import asked_again, register

REPLICATES = 2000
ASKED, SILENT, AGAIN = 828, 414, 293


def test_the_share_of_the_silent_is_the_book_s():
    """The book prints whole numbers of units: the share lies between those of half a unit off."""
    low, high = (share_to_ask_again((0.1 / 3.0) ** 2, n, 0.3) for n in (949.5, 948.5))
    assert low - 5e-5 <= 0.8452 <= high
    low, high = (
        share_to_ask_again(cv**2, n, 0.5) for cv, n in ((0.03825, 828.5), (0.03815, 827.5))
    )
    assert low <= 0.7071 <= high


def test_replicates_of_a_round_that_asked_again_have_the_book_s_variance():
    """The coefficient of variation 0.0382 of the second example, over 2,000 replicates."""
    rng = np.random.default_rng(1)
    value = rng.gamma(1.0, size=ASKED)
    for phase in (slice(0, SILENT), slice(SILENT, SILENT + AGAIN)):
        # mean 1 and variance 1 in what answers, so that nothing hangs on the draw of values
        part = value[phase]
        value[phase] = 1.0 + (part - part.mean()) / part.std(ddof=1)
    number = np.arange(ASKED)
    answers, drawn = number < SILENT, (number >= SILENT) & (number < SILENT + AGAIN)
    asked = asked_again(number % 2 == 0, answers, drawn, drawn).with_columns(
        again_probability=pl.when(pl.col("again_probability").is_not_null()).then(AGAIN / SILENT)
    )
    numbers = PermanentNumbers.draw(asked["unit_id"], REPLICATES, np.random.default_rng(2))
    weighed = weigh_rounds((AskedRound.of(asked, numbers, register(asked)),))[0]
    of_value = value[[int(name[1:]) for name in weighed.household_ids]]
    mean = weighed.weights @ of_value / weighed.weights.sum(axis=1)
    assert mean[0] == pytest.approx(1.0, abs=1e-9)
    assert mean[1:].std() == pytest.approx(0.0382, rel=0.04)
