"""Small areas against published data: corn and soybeans in Iowa counties, fresh milk.

Corn: Battese, Harter and Fuller (1988), Journal of the American Statistical Association 83,
28-36, 37 segments in 12 counties, row 33 left out as in the paper. Milk: Arora and Lahiri
(1997), Statistica Sinica 7, 1053-1063, 43 areas. Both as carried by the R package sae 1.3,
whose eblupBHF and mseFH (REML, R 4.2.2) gave the expected values.
"""

import csv
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import minimize, minimize_scalar

from planner.survey.small_areas import AreaModel, draw_effects

HERE = Path(__file__).parent

CORN_COUNTIES = (
    *(122.195403435, 126.228017065, 106.663763338, 108.422190382, 144.30716956, 112.158586024),
    *(112.780104057, 122.001966889, 115.343847267, 124.414368379, 106.888266848, 143.031210807),
)
MILK_AREAS = {
    1: (1.02197034245, 0.0134602201643),
    2: (1.04760182373, 0.00537287597614),
    3: (1.06795125807, 0.00570199034302),
    4: (0.760817049376, 0.00854173994505),
    5: (0.846157356835, 0.00957959370996),
    6: (0.97437267817, 0.0116706319944),
    20: (1.23495998418, 0.0130796860767),
    43: (0.681086989724, 0.00990362560344),
}


def table(name):
    with (HERE / name).open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    return {column: np.array([float(row[column]) for row in rows]) for column in rows[0]}


@pytest.fixture(scope="module")
def corn():
    rows = {k: np.delete(v, 32) for k, v in table("corn_soybean_segments.csv").items()}
    covariates = np.column_stack([np.ones(36), rows["corn_pixels"], rows["soybean_pixels"]])
    codes = rows["county"].astype(np.int64) - 1
    return rows["corn_ha"], covariates, codes


def corn_model(corn, segment_variance):
    values, covariates, codes = corn
    return AreaModel.of(values, np.full(36, segment_variance), covariates, codes, 12)


def test_corn_variances_are_those_of_reml(corn):
    def minus(log_variances):
        county, segment = np.exp(log_variances)
        return -corn_model(corn, segment).restricted_log_likelihood(county)

    found = minimize(minus, np.log([100.0, 100.0]), method="Nelder-Mead", options={"xatol": 1e-7})
    assert np.exp(found.x) == pytest.approx([140.02388971, 147.26862954], rel=1e-4)


def test_corn_county_means_are_those_of_the_nested_error_model(corn):
    values, covariates, codes = corn
    model = corn_model(corn, 147.26862954)
    coefficients, _ = model.coefficients(140.02388971)
    assert coefficients == pytest.approx([51.0703980771, 0.328721732424, -0.134568447968], rel=1e-6)
    counties = table("corn_soybean_counties.csv")
    means = np.column_stack(
        [np.ones(12), counties["mean_corn_pixels"], counties["mean_soybean_pixels"]]
    )
    predicted = means @ coefficients + model.levels(140.02388971, coefficients)
    # the segments that were seen are known, not predicted
    seen = np.bincount(codes, minlength=12)
    share = seen / counties["population_segments"]
    residual = np.bincount(codes, values - covariates @ coefficients) / seen
    unseen = residual - model.levels(140.02388971, coefficients)
    assert predicted + share * unseen == pytest.approx(CORN_COUNTIES, rel=1e-6)


@pytest.fixture(scope="module")
def milk():
    rows = table("fresh_milk.csv")
    major = rows["major_area"].astype(int)
    covariates = np.column_stack([np.ones(43), *[(major == k) * 1.0 for k in (2, 3, 4)]])
    model = AreaModel.of(
        rows["expenditure"], rows["standard_error"] ** 2, covariates, np.arange(43), 43
    )
    return model, covariates


def test_milk_area_variance_coefficients_and_predictors(milk):
    model, covariates = milk
    found = minimize_scalar(
        lambda v: -model.restricted_log_likelihood(v),
        bounds=(1e-6, 1.0),
        method="bounded",
        options={"xatol": 1e-10},
    )
    assert found.x == pytest.approx(0.0185502223227, rel=1e-4)
    coefficients, _ = model.coefficients(0.0185502223227)
    assert coefficients == pytest.approx(
        [0.968188970442, 0.132780142471, 0.226946218876, -0.241301079692], rel=1e-6
    )
    predicted = covariates @ coefficients + model.levels(0.0185502223227, coefficients)
    for area, (expected, _) in MILK_AREAS.items():
        assert predicted[area - 1] == pytest.approx(expected, rel=1e-6)


def test_milk_draws_spread_as_the_mean_squared_error_says(milk):
    """Prasad and Rao's estimate adds twice the error of the variance; draws carry it whole."""
    model, covariates = milk
    drawn = draw_effects(model, covariates, np.arange(43), 0.3, 20_000, np.random.default_rng(1))
    for area, (expected, error) in MILK_AREAS.items():
        own = drawn.predictor[:, area - 1]
        assert own[0] == pytest.approx(expected, abs=0.25 * error**0.5)
        assert own[1:].std() == pytest.approx(error**0.5, rel=0.12)
