"""The response model against logistic regression by R, and known truths of panel weights.

Admissions to Berkeley in 1973 by sex and department: Bickel, P.J., Hammel, E.A. and O'Connell,
J.W. (1975), Science 187, 398-404, in R as UCBAdmissions. In R 4.2.2 it is
glm(Admit == "Admitted" ~ Gender + Dept, weights = Freq, family = binomial); Agresti (2013),
Categorical Data Analysis, section 6.1, prints the same coefficient of sex, 0.100 (from memory).
"""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from planner.survey import response
from planner.survey.response import model_response

# admitted and rejected, men then women, departments A to F
ADMITTED = {
    "A": (512, 313, 89, 19),
    "B": (353, 207, 17, 8),
    "C": (120, 205, 202, 391),
    "D": (138, 279, 131, 244),
    "E": (53, 138, 94, 299),
    "F": (22, 351, 24, 317),
}
COEFFICIENTS = {"B": -0.04339793, "C": -1.26259802, "D": -1.29460647, "E": -1.73930574,
                "F": -3.30648006}  # fmt: skip
FEMALE = 0.09987009


def applicants():
    rows = [
        (department, sex, answered, count)
        for department, counts in ADMITTED.items()
        for sex, answered, count in zip(
            ("male", "male", "female", "female"), (True, False) * 2, counts, strict=True
        )
    ]
    frame = pl.DataFrame(rows, schema=["area_id", "dwelling", "has_answered", "n"], orient="row")
    frame = frame.select(pl.all().exclude("n").repeat_by("n").list.explode())
    return frame.with_columns(
        pl.lit("one").alias(name) for name in ("people", "cohort", "channel", "last_state")
    ).with_columns(answered_before=pl.lit("one"))


def test_log_odds_are_those_of_r_where_nothing_is_believed(monkeypatch):
    monkeypatch.setattr(response, "PRIOR_SPREAD", 1e3)
    ones = np.ones((2, 4526))
    found = model_response(applicants(), ones[0])
    log_odds = found.log_odds(ones)
    names = found.terms.select("covariate", "category").iter_rows()
    odds = dict(zip(names, np.log(found.odds_ratio(log_odds)[0]), strict=True))
    female = odds["dwelling", "female"] - odds["dwelling", "male"]
    assert female == pytest.approx(FEMALE, abs=2e-5)
    for department, coefficient in COEFFICIENTS.items():
        against_a = odds["area_id", department] - odds["area_id", "A"]
        assert against_a == pytest.approx(coefficient, abs=2e-5)
    odds = response.silent_odds(found.design, log_odds)
    assert odds[1] == pytest.approx(odds[0], rel=1e-6)


def test_a_belief_shrinks_what_few_say_and_hardly_what_many_say():
    """Normal belief with standard deviation 1: 4,526 applicants move department F by a tenth."""
    ones = np.ones((1, 4526))
    found = model_response(applicants(), ones[0])
    odds_ratio = found.odds_ratio(found.log_odds(ones))
    odds = dict(zip(found.terms["category"], np.log(odds_ratio[0]), strict=True))
    assert odds["F"] - odds["A"] == pytest.approx(COEFFICIENTS["F"], rel=0.1)


def _chances(fitted_to, weights):
    model = model_response(applicants(), fitted_to)
    return 1.0 / (1.0 + response.silent_odds(model.design, model.log_odds(weights)))


def test_one_step_of_the_score_is_near_the_fit_of_each_replicate():
    rng = np.random.default_rng(4)
    weights = np.vstack([np.ones(4526), rng.gamma(1.0, size=(20, 4526))])
    found = _chances(weights[0], weights)
    alone = np.vstack([_chances(row, row[None, :]) for row in weights])
    moved = np.abs(alone - alone[0]).mean()
    assert np.abs(found - alone).mean() < 0.1 * moved
