"""Scraps that planned bins will be fed, as one sum: what the allocation adds up otherwise."""

import numpy as np


def planned_fed_kg(bins_given, full_feed_weeks, feed_kg_per_week):
    """Scraps that planned bins will be fed.

    Parameters
    ----------
    bins_given
        Shape (groups, hand-overs), or (1 + draws_count, groups, hand-overs) where it is
        uncertain how many will be taken [bins].
    full_feed_weeks
        Shape (1 + draws_count, months, hand-overs), as `OneBin` gives them [weeks].
    feed_kg_per_week
        Shape (1 + draws_count, groups): feed of an in-use bin [kg/week].

    Returns
    -------
    ndarray
        Shape (1 + draws_count, groups, months) [kg].

    Examples
    --------
    >>> planned_fed_kg(np.array([[10.0]]), np.array([[[4.0], [3.0]]]), np.array([[1.5]])).tolist()
    [[[60.0, 45.0]]]
    """
    bins = np.broadcast_to(bins_given, (full_feed_weeks.shape[0], *bins_given.shape[-2:]))
    fed = np.matmul(bins, full_feed_weeks.transpose(0, 2, 1))
    fed *= feed_kg_per_week[:, :, None]
    return np.asarray(fed)
