"""Sizing against published closed forms and worked examples.

Sources: Ishigami, T. and Homma, T. (1990), An importance quantification technique in
uncertainty analysis, Proc. ISUMA, 398-403, with the Sobol indices of Saltelli, A. et al.
(2008), Global Sensitivity Analysis: The Primer, section 4.4 (a = 7, b = 0.1). Gelman, A. et
al. (2013), Bayesian Data Analysis, 3rd ed., section 2.4: 437 girls of 980 births with placenta
praevia, posterior mean .446 and 95% interval [.415, .477]; section 2.5: precisions add up.
PERT moments: Malcolm, D. G. et al. (1959), Operations Research 7, 646-669; Vose (2008).
Gaussian copula: rho_S = (6/pi) asin(rho/2), Nelsen (2006), section 5.1.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from planner.factors import read_factors
from planner.factors.draws import sobol_percentiles, variance_shares
from planner.sizing.beliefs import Belief, beta_parameters, pert_parameters
from planner.sizing.draws import correlated, correlation_matrix
from planner.sizing.learning import beta_binomial, effective_sample_size, normal_update


def ishigami(percentiles):
    x = np.pi * (2.0 * percentiles - 1.0)
    value = np.sin(x[:, 0]) + 7.0 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0])
    return value[:, None]


def test_sobol_indices_of_the_ishigami_function():
    shares = variance_shares(ishigami, {"x1": [0], "x2": [1], "x3": [2]}, 2**14, 1)
    assert shares.variance[0] == pytest.approx(
        49 / 8 + np.pi**4 / 50 + np.pi**8 / 1800 + 0.5, rel=0.01
    )
    assert shares.first_order[:, 0] == pytest.approx([0.313905, 0.442411, 0.0], abs=0.003)
    assert shares.total[:, 0] == pytest.approx([0.557589, 0.442411, 0.243684], abs=0.003)


def test_inputs_that_go_together_bring_what_they_bring_as_a_group():
    # closed form: x1 and x3 with their interaction bring all that x2 does not
    shares = variance_shares(ishigami, {"x1 and x3": [0, 2], "x2": [1]}, 2**13, 2)
    assert shares.first_order[:, 0] == pytest.approx([1 - 0.442411, 0.442411], abs=0.004)
    assert shares.total[:, 0] == pytest.approx([1 - 0.442411, 0.442411], abs=0.004)


def test_girl_births_with_placenta_praevia():
    alpha, beta = beta_binomial((1.0, 1.0), 437 / 980, 980.0)
    assert (alpha, beta) == pytest.approx((438.0, 544.0))
    assert alpha / (alpha + beta) == pytest.approx(0.446, abs=5e-4)
    assert stats.beta.ppf([0.025, 0.975], alpha, beta) == pytest.approx([0.415, 0.477], abs=5e-4)


def test_a_design_effect_of_two_halves_what_answers_are_worth():
    share, answers = 437 / 980, 980.0
    variance = 2.0 * share * (1.0 - share) / answers
    assert effective_sample_size(share, variance) == pytest.approx(answers / 2.0)
    half = beta_binomial((1.0, 1.0), share, effective_sample_size(share, variance))
    assert half == pytest.approx(beta_binomial((1.0, 1.0), share, answers, weight=0.5))


def test_precisions_of_a_normal_belief_add_up():
    mean, deviation = normal_update((1.0, 2.0), (3.0, 1.0))
    assert 1.0 / deviation**2 == pytest.approx(1 / 4 + 1.0)
    assert mean == pytest.approx((1.0 / 4 + 3.0) / (1 / 4 + 1.0))
    same, _ = normal_update((1.0, 2.0), (3.0, 1.0), weight=1e-9)
    assert same == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("low", "mode", "high"), [(0.0, 0.5, 1.0), (0.1, 0.25, 0.9), (2.0, 2.0, 5.0)]
)
def test_pert_moments(low, mode, high):
    alpha, beta = pert_parameters(low, mode, high)
    found = stats.beta(alpha, beta, loc=low, scale=high - low)
    mean = (low + 4.0 * mode + high) / 6.0
    assert found.mean() == pytest.approx(mean)
    assert found.var() == pytest.approx((mean - low) * (high - mean) / 7.0)
    belief = Belief("x", "", "", "", "pert", mode, low, high, "")
    even = (np.arange(200_000) + 0.5) / 200_000
    assert belief.quantile(even).mean() == pytest.approx(mean, rel=1e-5)


def test_beta_parameters_give_back_mean_and_variance():
    found = stats.beta(*beta_parameters(0.7, 0.01))
    assert (found.mean(), found.var()) == pytest.approx((0.7, 0.01))
    with pytest.raises(ValueError, match="no beta"):
        beta_parameters(0.5, 0.25)


def test_draws_have_the_rank_correlation_stated():
    matrix = correlation_matrix(["a", "b", "c"], {("a", "b"): 0.6, ("b", "c"): -0.4})
    drawn = correlated(sobol_percentiles(3, 2**14, 3), matrix)
    ranks = stats.spearmanr(drawn).statistic
    assert ranks[0, 1] == pytest.approx(0.6, abs=0.01)
    assert ranks[1, 2] == pytest.approx(-0.4, abs=0.01)
    # each alone stays even over 0 to 1
    assert drawn.mean(axis=0) == pytest.approx([0.5, 0.5, 0.5], abs=0.005)
    assert drawn.var(axis=0) == pytest.approx([1 / 12] * 3, rel=0.02)


def test_quasi_random_error_falls_faster_than_the_root_of_the_draws():
    # integral of the product of 1 + (x - 1/2)/2 over the unit cube is 1
    counts, scramblings = np.array([64, 256, 1024, 4096]), 24
    errors = [
        np.sqrt(
            np.mean(
                [
                    (
                        (1.0 + (sobol_percentiles(6, int(n), seed) - 0.5) / 2.0).prod(axis=1).mean()
                        - 1.0
                    )
                    ** 2
                    for seed in range(scramblings)
                ]
            )
        )
        for n in counts
    ]
    slope = np.polyfit(np.log(counts), np.log(errors), 1)[0]
    assert slope < -0.9
    plain = np.sqrt(((1.0 + 1.0 / 48.0) ** 6 - 1.0) / counts)
    assert (np.array(errors) < plain / 2.0).all()


def test_the_rule_of_thumb_for_500_bins():
    # 500 x 0.75 x 1.0 x 52 x 0.50 x 0.83 = 8.1 t; 150 kg a bin claims 75 t (handbook practice,
    # computed from the published planning shares in the factor tables)
    table = read_factors()
    in_use = (
        table.find("in_use_share", "after_6_months").value
        + table.find("in_use_share", "after_12_months").value
    ) / 2.0
    feed = table.find("fed_kg_per_household_week").value
    landfill = table.find("new_composter_share").value * table.find("residual_bin_share").value
    assert 500 * in_use * feed * 52 * landfill / 1000 == pytest.approx(8.1, abs=0.05)
    claim = 500 * table.find("compost_bin_kg_per_household_year").value / 1000
    assert claim == pytest.approx(75.0)
    # Maidstone 2015: 3.5 to 1.7 kg a household and week with a food collection
    ratio = table.find("food_collection_residual_ratio").value
    assert ratio == pytest.approx(1.7 / 3.5, abs=0.005)
