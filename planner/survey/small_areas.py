"""Small areas: a linear model in which every area has a level of its own, shrunk to the others."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Integers, Numbers, quotient

if TYPE_CHECKING:
    from collections.abc import Callable

    Working = Callable[[Numbers], tuple[Numbers, Numbers]]

GRID_POINTS = 81
"""Standard deviations between areas at which the posterior is summed; doubling them moves no
draw by a hundredth of its spread."""

GRID_REACH = 5.0
"""The largest of them, in units of the prior's scale: beyond lies less than a millionth of it."""

ROUNDS = 8
"""Rounds of working responses; the last moves an effect by less than a thousandth."""


@dataclass(frozen=True)
class AreaModel:
    """``y = x'b + u[area] + e`` with known error variances, reduced to sums by area.

    Notes
    -----
    With one answer an area this is the area-level model of Fay and Herriot; with several and
    one error variance the nested-error model of Battese, Harter and Fuller. Error variances
    that fall with the survey weight, scaled so that the precision of an area is that of its
    effective sample size, give the weighted predictor of You and Rao.

    References
    ----------
    Fay, R.E. and Herriot, R.A. (1979), Journal of the American Statistical Association 74,
    269-277. Battese, G.E., Harter, R.M. and Fuller, W.A. (1988), the same 83, 28-36.
    You, Y. and Rao, J.N.K. (2002), Canadian Journal of Statistics 30, 431-439 (from memory).
    """

    precision: Numbers  # shape (areas,): sum of 1 / error variance; 0 for an area without answers
    weighted_covariates: Numbers  # shape (areas, p): sum of x / error variance
    weighted_values: Numbers  # shape (areas,): sum of y / error variance
    # shape (p, p): sum of x x' / error variance, with the prior's precision of b
    covariate_products: Numbers
    covariates_by_values: Numbers  # shape (p,): sum of x y / error variance
    # what does not depend on the variance between areas: sum of y² / error variance and of log
    # error variances
    residual_terms: float

    @classmethod
    def of(
        cls,
        values: Numbers,
        error_variance: Numbers,
        covariates: Numbers,
        area_codes: Integers,
        areas_count: int,
        coefficient_spread: Numbers | None = None,
    ) -> AreaModel:
        """Sum answers by area.

        Parameters
        ----------
        values, error_variance
            Shape (n,); variances above 0.
        covariates
            Shape (n, p).
        area_codes
            Shape (n,): place of each answer's area.
        areas_count
            Areas in all, those without answers among them.
        coefficient_spread
            Shape (p,): standard deviation of a normal prior of each coefficient about 0;
            infinite, the default, for none.
        """
        weight = 1.0 / error_variance
        by_area = np.zeros((areas_count, covariates.shape[1] + 2))
        columns = np.column_stack([np.ones_like(values), values, covariates])
        np.add.at(by_area, area_codes, columns * weight[:, None])
        products = (covariates * weight[:, None]).T @ covariates
        if coefficient_spread is not None:
            products = products + np.diag(coefficient_spread**-2.0)
        return cls(
            precision=by_area[:, 0],
            weighted_covariates=by_area[:, 2:],
            weighted_values=by_area[:, 1],
            covariate_products=products,
            covariates_by_values=covariates.T @ (weight * values),
            residual_terms=float(weight @ values**2 + np.log(error_variance).sum()),
        )

    def coefficients(self, area_variance: float | Numbers) -> tuple[Numbers, Numbers]:
        """Generalised least squares: coefficients, and the inverse of their covariance.

        Shapes (..., p) and (..., p, p) for variances of shape (...).
        """
        level = self.level_variance(area_variance)
        inner = np.swapaxes(level[..., None] * self.weighted_covariates, -1, -2)
        products = self.covariate_products - inner @ self.weighted_covariates
        by_values = self.covariates_by_values - inner @ self.weighted_values
        return np.asarray(np.linalg.solve(products, by_values[..., None])[..., 0]), products

    def level_variance(self, area_variance: float | Numbers) -> Numbers:
        """Variance of each area's level given its answers and the coefficients, (..., areas)."""
        variance = np.asarray(area_variance)[..., None]
        return np.asarray(variance / (1.0 + variance * self.precision))

    def levels(self, area_variance: float, coefficients: Numbers) -> Numbers:
        """Best predictor of u for each area, shape (..., areas) for (..., p) coefficients."""
        residual = self.weighted_values - coefficients @ self.weighted_covariates.T
        return np.asarray(self.level_variance(area_variance) * residual)

    def restricted_log_likelihood(self, area_variance: float | Numbers) -> Numbers:
        """Log likelihood of variances between areas with the coefficients integrated out.

        Up to a constant; its greatest is the REML estimate. Shape as that of the variances.
        """
        level = self.level_variance(area_variance)
        coefficients, products = self.coefficients(area_variance)
        by_values = self.covariates_by_values - (level * self.weighted_values) @ (
            self.weighted_covariates
        )
        quadratic = self.residual_terms - level @ self.weighted_values**2
        variance = np.asarray(area_variance)[..., None]
        determinants = np.log1p(variance * self.precision).sum(axis=-1)
        determinants += np.linalg.slogdet(products)[1]
        explained = (by_values * coefficients).sum(axis=-1)
        return np.asarray(-0.5 * (determinants + quadratic - explained))


@dataclass(frozen=True)
class AreaEffects:
    """Cells' predictors on the model's scale, with draws, and how far they are borrowed."""

    predictor: Numbers  # shape (1 + draws_count, cells): ``x'b + u``; row 0 is the posterior mean
    between_sd: Numbers  # shape (1 + draws_count,): standard deviation between areas
    # shape (areas,): weight of an area's own answers, from 0 (all is borrowed) to 1
    own_weight: Numbers


def draw_effects(
    model: AreaModel,
    cell_covariates: Numbers,
    cell_areas: Integers,
    spread_scale: float,
    draws_count: int,
    rng: np.random.Generator,
) -> AreaEffects:
    """Draw the areas' levels from their posterior, the variance between areas included.

    The standard deviation between areas has a half-normal prior, so that it is never
    estimated as nothing and few areas borrow within reason; its posterior is summed on a
    grid, without chains. Coefficients and levels follow exactly given it.

    Parameters
    ----------
    cell_covariates
        Shape (cells, p): what is predicted.
    cell_areas
        Shape (cells,): the area of each cell.
    spread_scale
        Scale of the half-normal prior of the standard deviation between areas, on the
        model's scale.

    References
    ----------
    Rao, J.N.K. and Molina, I. (2015), Small Area Estimation, 2nd edition, chapter 10.
    Gelman, A. (2006), Bayesian Analysis 1, 515-534 (priors of a standard deviation); both
    from memory.
    """
    spreads = _grid(spread_scale)
    log_share = _log_posterior(model, spreads, spread_scale)
    share = np.exp(log_share - log_share.max())
    share /= share.sum()
    place = np.concatenate([[0], rng.choice(GRID_POINTS, size=draws_count, p=share)])
    normal = rng.standard_normal((1 + draws_count, cell_covariates.shape[1]))
    level_normal = rng.standard_normal((1 + draws_count, model.precision.size))
    mean, products = model.coefficients(spreads**2)
    level = model.level_variance(spreads**2)
    predictor = np.empty((1 + draws_count, cell_areas.size))
    central = level * (model.weighted_values - mean @ model.weighted_covariates.T)
    predictor[0] = share @ (mean @ cell_covariates.T + central[:, cell_areas])
    # each point of the grid once, for all draws that fell on it
    for point in np.unique(place[1:]):
        drawn = 1 + np.flatnonzero(place[1:] == point)
        root = np.linalg.cholesky(products[point])
        coefficients = mean[point] + np.linalg.solve(root.T, normal[drawn].T).T
        levels = model.levels(spreads[point] ** 2, coefficients)
        levels = levels + np.sqrt(level[point]) * level_normal[drawn]
        predictor[drawn] = coefficients @ cell_covariates.T + levels[:, cell_areas]
    between = spreads[place]
    between[0] = share @ spreads
    return AreaEffects(predictor, between, share @ level * model.precision)


def fit_areas(
    working: Working,
    covariates: Numbers,
    area_codes: Integers,
    areas_count: int,
    coefficient_spread: Numbers,
    spread_scale: float,
) -> AreaModel:
    """Bring a model on another scale (logit, log) to the linear one by working responses.

    ``working`` gives, for the predictor of each answer, a linear response and its variance
    there (penalised quasi-likelihood). The variance between areas is its posterior mode
    within each round.

    Parameters
    ----------
    working
        From predictors of shape (n,) to responses and error variances of shape (n,).
    covariates, area_codes, areas_count, coefficient_spread
        As for `AreaModel.of`.
    spread_scale
        As for `draw_effects`.

    References
    ----------
    Breslow, N.E. and Clayton, D.G. (1993), Journal of the American Statistical Association
    88, 9-25 (from memory).
    """
    predictor = np.zeros(area_codes.size)
    spreads = _grid(spread_scale)
    for _ in range(ROUNDS):
        values, variance = working(predictor)
        model = AreaModel.of(
            values, variance, covariates, area_codes, areas_count, coefficient_spread
        )
        log_posterior = _log_posterior(model, spreads, spread_scale)
        best = float(spreads[log_posterior.argmax()] ** 2)
        mean, _products = model.coefficients(best)
        predictor = covariates @ mean + model.levels(best, mean)[area_codes]
    return model


def _grid(spread_scale: float) -> Numbers:
    """List standard deviations between areas: none of them 0, closer together near it."""
    middle = (np.arange(GRID_POINTS) + 0.5) / GRID_POINTS
    return np.asarray(GRID_REACH * spread_scale * middle**2)


def _log_posterior(model: AreaModel, spreads: Numbers, spread_scale: float) -> Numbers:
    """Log posterior of the grid's points, each with the width that it stands for."""
    likelihood = model.restricted_log_likelihood(spreads**2)
    widths = np.sqrt(spreads)
    return np.asarray(likelihood - 0.5 * (spreads / spread_scale) ** 2 + np.log(widths))


def effective_weights(weights: Numbers, area_codes: Integers, areas_count: int) -> Numbers:
    """Scale survey weights so that each area's sum to its effective sample size (Kish).

    Examples
    --------
    >>> effective_weights(np.array([1.0, 1.0, 3.0, 1.0]), np.array([0, 0, 1, 1]), 2).round(2)
    array([1. , 1. , 1.2, 0.4])
    """
    total = np.bincount(area_codes, weights, areas_count)
    squares = np.bincount(area_codes, weights**2, areas_count)
    ratio = quotient(total, squares)
    return np.asarray(weights * ratio[area_codes])
