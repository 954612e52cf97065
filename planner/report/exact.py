"""Draws that are all one number: a figure without an interval."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from planner.figures import Figure, FigureRegister, Input

SAME = 1e-12
"""Draws that differ by less than this share of their size differ in their last bits only."""


def add_known(
    register: FigureRegister,
    figure_id: str,
    label: str,
    draws: NDArray[np.float64],
    unit: str,
    method: str,
    inputs: Iterable[Input],
) -> Figure:
    """Add draws as a figure; with no interval where nothing uncertain went into them.

    Examples
    --------
    >>> from planner.figures import FigureRegister
    >>> register = FigureRegister("Town", "2025-26", "1")
    >>> add_known(register, "a", "A", np.array([2.0, 2.0, 2.0]), "t", "", ()).low is None
    True
    """
    if np.ptp(draws) <= SAME * np.abs(draws).max():
        return register.add_exact(figure_id, label, float(draws[0]), unit, method, inputs)
    return register.add_draws(figure_id, label, draws, unit, method, inputs)
