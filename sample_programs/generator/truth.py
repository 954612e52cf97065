"""What truly happened, in the figures that the council wants to know."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.units import DAYS_PER_MONTH, DAYS_PER_WEEK, KG_PER_T

if TYPE_CHECKING:
    from sample_programs.generator.simulation import Simulation

_SUMMED = pl.col(
    "bins_given",
    "bins_in_use",
    "fed_t",
    "would_have_been_landfilled_t",
    "kept_out_of_landfill_t",
    "bin_weeks",
)

RETENTION_AGES_MONTHS = (1, 3, 6, 9, 12, 18, 24)


@dataclass(frozen=True)
class Truth:
    """True figures of a simulated town.

    Attributes
    ----------
    years
        One row a reporting year: reporting_year, bins_given, bins_in_use (households that use
        a bin at its end: questions are put to households, and two bins of one count once),
        fed_t (into all bins), would_have_been_landfilled_t (before both leaks),
        kept_out_of_landfill_t (after them), feed_kg_per_in_use_bin_week, landfill_share
        (before them, feed-weighted).
    area_years
        One row a reporting year and area: bins_given, bins_in_use, fed_t,
        would_have_been_landfilled_t, kept_out_of_landfill_t.
    retention
        Share of households that use a bin so long after their first: age_months,
        retention_share.
    """

    years: pl.DataFrame
    area_years: pl.DataFrame
    retention: pl.DataFrame


def retention_share(use_days: np.ndarray, age_days: np.ndarray) -> np.ndarray:
    """Share still in use at each age.

    Examples
    --------
    >>> retention_share(np.array([0.0, 50.0, 400.0, 900.0]), np.array([30.0, 365.0])).tolist()
    [0.75, 0.5]
    """
    return np.mean(use_days[:, None] > age_days, axis=0)


def true_figures(simulation: Simulation) -> Truth:
    """Sum up a simulation by reporting year, by area and by age of the bin."""
    parts = [_year_by_area(simulation, year) for year in range(len(simulation.town.years))]
    area_years = pl.concat(parts)
    summed = pl.concat(part.select("reporting_year", _SUMMED.sum()).head(1) for part in parts)
    years = summed.select(
        pl.exclude("bin_weeks"),
        feed_kg_per_in_use_bin_week=pl.col("fed_t") * KG_PER_T / pl.col("bin_weeks"),
        landfill_share=pl.col("would_have_been_landfilled_t") / pl.col("fed_t"),
    )
    ages = np.array(RETENTION_AGES_MONTHS)
    stopped, first = simulation.household_stopped_day(), simulation.household_handover_day()
    shares = retention_share((stopped - first)[stopped >= 0.0], ages * DAYS_PER_MONTH)
    retention = pl.DataFrame({"age_months": ages, "retention_share": shares})
    return Truth(years, area_years.drop("bin_weeks"), retention)


def _year_by_area(simulation: Simulation, year: int) -> pl.DataFrame:
    calendar, bins = simulation.calendar, simulation.bins
    inside = calendar.piece_year == year
    starts, ends = calendar.year_edges[year], calendar.year_edges[year + 1]
    handed, owner = bins["handover_day"].to_numpy(), bins["household_index"].to_numpy()
    area_of_home = simulation.households["area_index"].to_numpy()
    fed_t = simulation.fed_kg[:, inside].sum(axis=1) / KG_PER_T
    used_days = np.zeros((simulation.households.height, int(inside.sum())))
    np.maximum.at(used_days, owner, simulation.used_days[:, inside])
    by_bin = {
        "bins_given": (handed >= starts) & (handed < ends),
        "fed_t": fed_t,
        "would_have_been_landfilled_t": fed_t * bins["landfill_share"].to_numpy(),
        "kept_out_of_landfill_t": fed_t * bins["kept_out_share"].to_numpy(),
    }
    by_home = {
        "bins_in_use": (simulation.household_handover_day() < ends)
        & (simulation.household_stopped_day() > ends),
        "bin_weeks": used_days.sum(axis=1) / DAYS_PER_WEEK,
    }
    places = simulation.town.areas
    summed = {
        name: np.bincount(area, values, minlength=len(places))
        for area, rows in ((area_of_home[owner], by_bin), (area_of_home, by_home))
        for name, values in rows.items()
    }
    return pl.DataFrame(
        {
            "reporting_year": simulation.town.years[year].label,
            "area_id": [place.area_id for place in places],
            **summed,
        }
    ).with_columns(pl.col("bins_given", "bins_in_use").cast(pl.Int64))
