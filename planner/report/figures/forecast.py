"""Figures of a year that still runs, carried to its end, and the chance of each target."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.report.figures.declaring import Declared
from planner.report.inputs import of_query

if TYPE_CHECKING:
    from planner.report.figures.declaring import Writer
    from planner.report.forecasting import Forecast

ASSUMED = (
    "To date as measured to {through}; to come: the bins given so far by the retention curve, the "
    "season and the feed of the last survey round, and {days} hand-over days with {places} places "
    "at {take_up} bins for a place{basis}. Days that are not in the records are not counted."
)
CARRIED_ON = "retention_12_months"
TABLE = {"forecast": ""}

FIGURES = (
    Declared(
        "forecast_bins_given",
        "Forecast to the end of the year: bins given",
        "bins",
        ASSUMED,
        "bins_given",
        TABLE,
    ),
    Declared(
        "forecast_bins_in_use",
        "Forecast for the end of the year: bins in use",
        "bins",
        ASSUMED,
        f"bins_in_use {CARRIED_ON}",
        TABLE,
    ),
    Declared(
        "forecast_fed_t",
        "Forecast to the end of the year: food scraps fed",
        "t",
        ASSUMED,
        f"fed_t {CARRIED_ON} key:climate.monthly_mean_temperature_c",
        TABLE,
    ),
    Declared(
        "forecast_kept_out_of_landfill_t",
        "Forecast to the end of the year: food scraps kept out of landfill",
        "t",
        ASSUMED,
        f"kept_out_of_landfill_t {CARRIED_ON} key:climate.monthly_mean_temperature_c",
        TABLE,
    ),
    Declared(
        "on_track_share[{of}]",
        "Chance of reaching the target by the end of the year: {of_words}",
        "share",
        "Share of the draws of the forecast that reach the target.",
        "forecast_{of} {of}_target",
        {"on_track": "Chance by the end of the year"},
    ),
)


def add_forecast(out: Writer) -> None:
    """Add the forecast of a year that still runs; nothing where it is over."""
    found = out.year.forecast
    if found is None:
        return
    also = (of_query("upcoming_events"), of_query("event_take_up"))
    words = _words(out, found)
    targets = {
        "bins_given": found.bins_given,
        "kept_out_of_landfill_t": found.kept_out_t,
    }
    if out.register["bins_given"].value is not None:
        out.put("forecast_bins_given", found.bins_given, words, also=also)
    out.put("forecast_bins_in_use", found.bins_in_use, words, also=also)
    out.put("forecast_fed_t", found.fed_t, words, also=also)
    out.put("forecast_kept_out_of_landfill_t", found.kept_out_t, words, also=also)
    for name, draws in targets.items():
        target = getattr(out.year.reporting_year, f"{name}_target")
        if target is not None and f"forecast_{name}" in out.register:
            chance = float(np.mean(draws[1:] >= target))
            label = name.removesuffix("_t").replace("_", " ")
            out.put("on_track_share[{of}]", chance, of=name, of_words=label)


def _words(out: Writer, found: Forecast) -> dict[str, str]:
    held = f", as on the {found.days_held} days held so far"
    return {
        "through": out.year.counts.through_date,
        "days": f"{found.days_count:,}",
        "places": f"{found.places_count:,}",
        "take_up": f"{found.take_up:.2f}",
        "basis": held if found.days_held else ", as no day was held yet",
    }
