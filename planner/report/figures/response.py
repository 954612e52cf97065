"""Figures of who answers: the response model, its weights, its effect, and what none can know."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.diversion.bounds import USERS_ODDS
from planner.report.disclosure import HIDDEN, hides_part
from planner.report.figures.declaring import WEIGHTS, Declared
from planner.report.figures.retention import share_at
from planner.survey.response import KNOWN_BEFORE
from planner.units import KG_PER_T

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.diversion.measured import Diversion
    from planner.report.figures.declaring import Writer
    from planner.report.year import Year
    from planner.survey.weights import WaveWeights

AT_A_YEAR = np.array([12.0])
HEADLINES = {
    "retention_12_months": ("Share of bins still in use 12 months after the hand-over", "share"),
    "bins_in_use": ("Bins in use at the end of the year", "bins"),
    "kept_out_of_landfill_t": ("Food scraps kept out of landfill in the year", "t"),
}

FIGURES = (
    Declared(
        "response_odds_ratio[{wave_id}|{known}: {category}]",
        "Odds of an answer in round {wave_id}, {known}: {category}",
        "ratio",
        "Logistic regression of who answered on area, dwelling, people in the household, quarter "
        "of the first bin, how it registered, state told last and earlier answers, over the "
        "average category of each; a normal belief with a standard deviation of 1 about each log "
        "odds ratio. Categories of which fewer than twenty were asked are together. One over the "
        "modelled chance weighs an answer; the interval is over replicates.",
        "query:wave_frames",
    ),
    Declared(
        "largest_weight_over_mean[{wave_id}]",
        "Largest weight over the mean weight in round {wave_id}",
        "ratio",
        "Weights above five times the mean, or twice the largest mean of a category, are cut.",
        WEIGHTS,
    ),
    Declared(
        "without_response_history[{headline}]",
        "{words}, as if who answers depended on area and dwelling alone",
        "{of_headline}",
        "The year measured again, with response and weights as if they depended on area and "
        "dwelling alone; the difference from the figure is what the response model does.",
        "{headline}",
    ),
    Declared(
        "if_users_odds[{headline}|{odds}]",
        "{words}, if users' odds of answering are {odds} times those of others",
        "{of_headline}",
        "The year measured again: of two households alike in all that was known before, the one "
        "that uses its bin answers with {odds} times the odds, so that the silent use theirs "
        "less. No answer tells these odds.",
        "{headline}",
    ),
    Declared(
        "users_odds_at_target",
        "Odds of answering of users over others at which the target is just met",
        "ratio",
        "Between the odds tried, in proportion of their logarithms. Empty where the target is "
        "missed already, or still met at the largest odds tried.",
        "kept_out_of_landfill_t kept_out_of_landfill_t_target",
    ),
)


def add_response(out: Writer) -> None:
    """Add the figures of who answers."""
    for wave in out.year.diversion.waves:
        _add_model(out, wave)
        out.put("largest_weight_over_mean[{wave_id}]", wave.largest_over_mean, wave_id=wave.wave_id)
    _add_measured_again(out)


def _add_model(out: Writer, wave: WaveWeights) -> None:
    threshold = out.year.program.privacy.small_cell_threshold
    for place, row in enumerate(wave.terms.to_dicts()):
        is_hidden = hides_part(row["answered_count"], row["asked_count"], threshold)
        out.put(
            "response_odds_ratio[{wave_id}|{known}: {category}]",
            None if is_hidden else wave.odds_ratio[:, place],
            why=HIDDEN,
            wave_id=wave.wave_id,
            known=KNOWN_BEFORE[row["covariate"]],
            category=row["category"],
        )


def headlines(measured: Diversion, year: Year) -> dict[str, float]:
    """Values of the headline figures of a year that was measured in some way."""
    months = year.diversion.cohorts.months_from(year.counts.from_date)
    return {
        "retention_12_months": float(share_at(measured, AT_A_YEAR)[0, 0]),
        "bins_in_use": float(measured.bins_in_use[0, -1]),
        "kept_out_of_landfill_t": float(measured.kept_out_kg[0, months].sum()) / KG_PER_T,
    }


def _add_measured_again(out: Writer) -> None:
    """Add the headlines without the household's history, and at several odds of users."""
    year = out.year
    without = headlines(year.bounds.without_history, year)
    likelier = [headlines(measured, year) for measured in year.bounds.if_users_likelier]
    for headline, (words, unit) in HEADLINES.items():
        shared = {"headline": headline, "words": words, "of_headline": unit}
        out.put("without_response_history[{headline}]", without[headline], shared)
        for odds, values in zip(USERS_ODDS, likelier, strict=True):
            name = "if_users_odds[{headline}|{odds}]"
            out.put(name, values[headline], shared, odds=f"{odds:g}")
    target = year.reporting_year.kept_out_of_landfill_t_target
    if target is not None:
        kept_out = np.array([values["kept_out_of_landfill_t"] for values in likelier])
        found = odds_at(kept_out, float(target))
        why = "The target is missed already, or still met at the largest odds tried."
        out.put("users_odds_at_target", found, why=why)


def odds_at(kept_out: NDArray[np.float64], target: float) -> float | None:
    """Find the odds at which a falling result meets a target; None outside those tried.

    Examples
    --------
    >>> odds_at(np.array([30.0, 28.0, 26.0, 24.0, 20.0]), 27.0).__round__(3)
    1.732
    >>> odds_at(np.array([30.0, 28.0, 26.0, 24.0, 20.0]), 40.0) is None
    True
    """
    if not kept_out[-1] < target <= kept_out[0]:
        return None
    logs = np.log(np.array(USERS_ODDS))
    return float(np.exp(np.interp(-target, -kept_out, logs)))
