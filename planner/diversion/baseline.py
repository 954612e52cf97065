"""What would still go to the residual bin: the council's dated baseline scenarios, by area."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.errors import ProgramError
from planner.messages import say

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from planner.program import Program


def still_in_residual_bin(
    program: Program, area_ids: Sequence[str], months: Sequence[dt.date]
) -> NDArray[np.float64]:
    """Share of what went to the residual bin that would still go there in months to come.

    Parameters
    ----------
    program
        Its scenarios, which hold together: what one leaves, the next takes its share of.
    area_ids
        Areas.
    months
        First days of months.

    Returns
    -------
    ndarray
        Shape (areas, months), 1 where no scenario holds.

    Raises
    ------
    ProgramError
        A scenario names an area that there is not.

    Notes
    -----
    GHG Protocol for Project Accounting (2005), chapter 8, and ISO 14064-2:2019, 6.4: the baseline
    is what would have happened, and changes with what is known to come (from memory).
    """
    stays = np.ones((len(area_ids), len(months)))
    for scenario in program.scenarios:
        unknown = sorted(set(scenario.areas) - set(area_ids))
        if unknown:
            given = {"name": scenario.name, "area": unknown[0], "known": ", ".join(area_ids)}
            raise ProgramError(say("estimate.scenario_area", **given))
        holds = np.array([month >= scenario.begins for month in months], dtype=bool)
        inside = np.array([not scenario.areas or one in scenario.areas for one in area_ids])
        both = inside[:, None] & holds[None, :]
        stays = np.where(both, stays * (1.0 - scenario.leaves_residual_bin_share), stays)
    return stays


def alike(
    stays: NDArray[np.float64],
) -> Iterator[tuple[NDArray[np.bool_], NDArray[np.float64]]]:
    """Group rows that are the same over all months: which they are, and their months.

    Parameters
    ----------
    stays
        Shape (rows, months).
    """
    courses, place = np.unique(stays, axis=0, return_inverse=True)
    for number, course in enumerate(courses):
        yield place.ravel() == number, course
