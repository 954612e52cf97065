"""Replicates laid out as estimators take them: a row of ones, then a row a replicate."""

import numpy as np

from planner.survey.replicates import GammaStrata, exponentials


def gamma_multipliers(uniforms, stratum, share, unit=None):
    """Multipliers of shape (1 + draws, n) from uniforms of shape (draws, n)."""
    drawn = GammaStrata.of(stratum, share, unit).multipliers(exponentials(uniforms.T)).T
    return np.vstack([np.ones((1, stratum.size)), drawn])
