"""The allocation as a file: what `planner order` begins from."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from planner.sizing.plan import Plan

ALLOCATION_FILE = "allocation.csv"
HEADINGS = ("area_id", "dwelling", "model_id", "round", "hand_over_month", "bins")


def allocation_rows(plan: Plan) -> list[list[str | int]]:
    """Headings, then one row for each area, dwelling, model and round with bins.

    Parameters
    ----------
    plan
        The plan chosen.
    """
    rows: list[list[str | int]] = [list(HEADINGS)]
    bins = plan.allocation.bins_by_group
    for group, model, place in np.argwhere(bins > 0):
        area_id, _, dwelling = plan.labels[group].rpartition("/")
        one = plan.settings.rounds[place]
        rows.append(
            [
                area_id,
                dwelling,
                plan.settings.models[model].model_id,
                one.name,
                f"{one.month:%Y-%m-%d}",
                int(bins[group, model, place]),
            ]
        )
    return rows
