"""Figures of a year that still runs, carried to its end, and the chance of each target."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.messages import paper
from planner.report.figures.declaring import Declared
from planner.report.inputs import of_query

if TYPE_CHECKING:
    from planner.report.figures.declaring import Writer
    from planner.report.forecasting import Forecast

CARRIED_ON = "retention_12_months"
TABLE = ("forecast",)

FIGURES = (
    Declared("forecast_bins_given", "bins", "bins_given", TABLE, method="forecast"),
    Declared("forecast_bins_in_use", "bins", f"bins_in_use {CARRIED_ON}", TABLE, method="forecast"),
    Declared(
        "forecast_fed_t",
        "t",
        f"fed_t {CARRIED_ON} key:climate.monthly_mean_temperature_c",
        TABLE,
        method="forecast",
    ),
    Declared(
        "forecast_kept_out_of_landfill_t",
        "t",
        f"kept_out_of_landfill_t {CARRIED_ON} key:climate.monthly_mean_temperature_c",
        TABLE,
        method="forecast",
    ),
    Declared("on_track_share[{of}]", "share", "forecast_{of} {of}_target", ("on_track",)),
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
            of_words = paper().say(f"said.on_track.{name}")
            out.put("on_track_share[{of}]", chance, of=name, of_words=of_words)


def _words(out: Writer, found: Forecast) -> dict[str, str]:
    say = paper()
    return {
        "through": out.year.counts.through_date,
        "days": say.number(found.days_count),
        "places": say.number(found.places_count),
        "take_up": say.number(found.take_up, 2),
        "basis": say.say("said.days_held", found.days_held)
        if found.days_held
        else say.say("said.no_day_held"),
    }
