"""The three invented towns, and towns like them for studies of many councils."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from sample_programs.generator.port_marrow import PORT_MARROW
from sample_programs.generator.streams import stream
from sample_programs.generator.thornquay import THORNQUAY
from sample_programs.generator.valdorra import VALDORRA

if TYPE_CHECKING:
    import numpy as np

    from sample_programs.generator.towns import Stopping, Town

TOWNS: dict[str, Town] = {town.folder: town for town in (PORT_MARROW, THORNQUAY, VALDORRA)}


def varied(town: Town, seed: int) -> Town:
    """Draw a town like `town` with other habits: use, feed, routes, answering.

    Examples
    --------
    >>> varied(TOWNS["valdorra"], 1) == varied(TOWNS["valdorra"], 1)
    True
    """
    rng = stream(seed, "varied")
    median = town.feeding.median_kg_per_week * rng.uniform(0.7, 1.4)
    swing = town.feeding.season_swing * rng.uniform(0.5, 1.5)
    spread = town.feeding.household_spread * rng.uniform(0.8, 1.2)
    return replace(
        town,
        stopping=_varied_stopping(town.stopping, rng),
        feeding=replace(
            town.feeding, median_kg_per_week=median, season_swing=swing, household_spread=spread
        ),
        routes=replace(
            town.routes, concentration=town.routes.concentration * rng.uniform(0.6, 1.6)
        ),
        survey=replace(
            town.survey,
            response_share=rng.uniform(0.4, 0.7),
            over_report=rng.uniform(1.1, 1.4),
            litres_share=rng.uniform(0.2, 0.8),
        ),
    )


def _varied_stopping(stopping: Stopping, rng: np.random.Generator) -> Stopping:
    return replace(
        stopping,
        never_set_up_share=rng.uniform(0.02, 0.10),
        early_share=rng.uniform(0.05, 0.18),
        late_shape=stopping.late_shape * rng.uniform(0.6, 1.5),
    )
