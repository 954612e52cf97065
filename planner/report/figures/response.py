"""Figures of who answers: the response model, its weights, its effect, and what none can know."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from planner.diversion.bounds import USERS_ODDS
from planner.messages import paper
from planner.report.disclosure import HIDDEN, hides_part
from planner.report.figures.declaring import WEIGHTS, Declared, whole_year
from planner.report.figures.retention import share_at
from planner.survey.response import KNOWN_BEFORE
from planner.units import KG_PER_T

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.diversion.measured import Diversion
    from planner.report.figures.declaring import Writer
    from planner.report.year import Year
    from planner.survey.weights import WaveWeights

_NO_KEY = re.compile(r"[^a-z0-9]+")
AT_A_YEAR = np.array([12.0])
HEADLINES = {"retention_12_months": "share", "bins_in_use": "bins", "kept_out_of_landfill_t": "t"}
"""Figures that are measured again, with their units."""

FIGURES = (
    Declared("response_odds_ratio[{wave_id}|{known}: {category}]", "ratio", WEIGHTS),
    Declared("largest_weight_over_mean[{wave_id}]", "ratio", WEIGHTS),
    Declared("without_response_history[{headline}]", "{of_headline}", "{headline}"),
    Declared("if_users_odds[{headline}|{odds}]", "{of_headline}", "{headline}"),
    Declared(
        "users_odds_at_target", "ratio", "kept_out_of_landfill_t kept_out_of_landfill_t_target"
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
            known_words=paper().say(f"known.{row['covariate']}"),
            category=row["category"],
            category_words=category_words(row["category"]),
        )


def category_words(category: str) -> str:
    """Name a category of what is known before; a name of the council's own stays as it is."""
    key = f"known.is.{_NO_KEY.sub('_', category.lower())}"
    words = paper().say(key)
    return category if words == key else words


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
    for headline, unit in HEADLINES.items():
        words = out.catalogue[headline].labelled(**whole_year())
        shared = {"headline": headline, "words": words, "of_headline": unit}
        out.put("without_response_history[{headline}]", without[headline], shared)
        for odds, values in zip(USERS_ODDS, likelier, strict=True):
            name = "if_users_odds[{headline}|{odds}]"
            out.put(
                name,
                values[headline],
                shared,
                odds=f"{odds:g}",
                odds_words=paper().significant(odds),
            )
    target = year.reporting_year.kept_out_of_landfill_t_target
    if target is not None:
        kept_out = np.array([values["kept_out_of_landfill_t"] for values in likelier])
        found = odds_at(kept_out, float(target))
        out.put("users_odds_at_target", found, why="why.no_odds_at_target")


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
