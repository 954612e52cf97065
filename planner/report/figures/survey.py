"""Figures of the survey: what reports weigh, prior routes, who answers, weights, benchmark."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Numbers
from planner.diversion.bounds import USERS_ODDS
from planner.messages import paper, said
from planner.report.disclosure.parts import HIDDEN, hides_part, is_small
from planner.report.figures.retention import HEADLINES, headlines
from planner.report.figures.writer import Writer, whole_year
from planner.report.wording import known_words
from planner.survey.feed import UnitCalibration
from planner.survey.response import KNOWN_BEFORE
from planner.survey.weights import WaveWeights
from planner.tables import PRIOR_SHARES

if TYPE_CHECKING:
    from planner.report.year import Year

OWN_WEIGHINGS = "own weighings"
ROUTES = [column.removeprefix("prior_").removesuffix("_share") for column in PRIOR_SHARES]
_NO_KEY = re.compile(r"[^a-z0-9]+")


def add_survey(out: Writer) -> None:
    """Add what the survey rounds found of feed and prior routes, and how they were weighted."""
    _add_calibration(out)
    _add_reports(out)
    _add_routes(out)
    _add_composters(out)
    _add_rounds(out)


def _add_calibration(out: Writer) -> None:
    found = out.year.diversion.calibration
    published = "factor:self_report_multiplier"
    of_litres = f"{published} factor:caddy_density_kg_per_litre"
    for name, line, factors in (
        ("weighed_kg_per_reported_kg", found.of_kg, published),
        ("weighed_kg_per_reported_litre", found.of_litres, of_litres),
    ):
        # own weighings need no published factor
        used = "" if line.basis == OWN_WEIGHINGS else factors
        out.put(name, line.kg_per_unit, said=_calibration_method(out.year, line), factors=used)


def _calibration_method(year: Year, line: UnitCalibration) -> str:
    threshold = year.program.privacy.small_cell_threshold
    language, few = paper(), is_small(line.pairs_count, threshold)
    count = said("said.fewer", threshold=threshold) if few else language.number(line.pairs_count)
    basis = _NO_KEY.sub("_", line.basis)
    words = said(f"said.weighing.{basis}", count=count)
    if line.basis != OWN_WEIGHINGS:
        return f"{words} {said('said.ten_or_more')}"
    start, slope = language.number(line.intercept, 2), language.number(line.slope, 2)
    chosen = said("said.ratio_estimate")
    if line.estimator == "regression":
        chosen = said("said.regression", start=start, slope=slope)
    correlation = language.number(line.correlation_squared, 2)
    return f"{words} {chosen} {said('said.double_sampling', correlation=correlation)}"


def _add_reports(out: Writer) -> None:
    """Add how round the reports are, how young bins are fed, and what outliers would do."""
    reported, fit = out.year.diversion.reported, out.year.diversion.run_in
    for grid, found in reported.heaping.items():
        if not is_small(found.reports_count, out.threshold):
            out.put(
                "heaping_index[{grid}]",
                found.index,
                grid=grid,
                grid_words=said(f"said.grid.{grid}"),
                within=said(f"said.within.{grid}"),
                expected=paper().share(found.expected_share),
            )
    if fit.is_known and not is_small(fit.young_count, out.threshold):
        young, settled = int(fit.young_count), int(fit.settled_count)
        out.put("run_in_surveyed_to_modelled", fit.ratio, young=young, settled=settled)
    out.put("winsorised_feed_change", reported.change_share)


def _add_routes(out: Writer) -> None:
    by_route = out.year.diversion.fed_by_route_kg[:, :, out.months].sum(axis=2)
    shares = by_route / by_route.sum(axis=1, keepdims=True)
    for place, route in enumerate(ROUTES):
        out.put(f"prior_route_share[{route}]", shares[:, place])


def _add_composters(out: Writer) -> None:
    found = out.year.diversion.composters
    if found is None or is_small(found.least_count, out.threshold):
        return
    landfilled = out.year.program.landfill.landfilled_share_of_residual_waste
    habit = "landfill_share_by_habit"
    out.put("already_composting_share", found.household_share)
    out.put(f"{habit}[already_composted]", found.residual_bin_share * landfilled)
    out.put(f"{habit}[did_not_compost]", found.others_residual_bin_share * landfilled)


def add_response_share(out: Writer, wave: WaveWeights) -> None:
    """Add how many of those asked answered a round."""
    answered, asked = wave.answered_count, wave.asked_count
    share = None if hides_part(answered, asked, out.threshold) else answered / asked
    words = {"wave_id": wave.wave_id, "answered": answered, "asked": asked}
    out.put("response_share[{wave_id}]", share, words, why=HIDDEN)


def _add_rounds(out: Writer) -> None:
    for wave in out.year.diversion.waves:
        add_response_share(out, wave)
        # whether some of the silent were asked again, and what their answers stand for
        again = {"asked": wave.again_count, "answered": wave.answered_again_count}
        words = {
            "wave_id": wave.wave_id,
            "agrees_with": wave.words,
            "again": said("said.asked_again", **again) if wave.again_count else "",
            "cut": said("said.weights_cut" if wave.cut_count else "said.no_weight_cut"),
        }
        out.put("weights_design_effect[{wave_id}]", wave.design_effect, words)
    levels = out.year.diversion.benchmark
    for place, wave_id in enumerate(levels.wave_ids):
        name, day = "surveyed_to_modelled_feed[{wave_id}]", f"{levels.mean_dates[place]:%Y-%m-%d}"
        out.put(name, levels.ratios[:, place], wave_id=wave_id, day=day)


def add_response(out: Writer) -> None:
    """Add the figures of who answers."""
    for wave in out.year.diversion.waves:
        _add_model(out, wave)
        out.put("largest_weight_over_mean[{wave_id}]", wave.largest_over_mean, wave_id=wave.wave_id)
    _add_measured_again(out)


def _add_model(out: Writer, wave: WaveWeights) -> None:
    for place, row in enumerate(wave.terms.to_dicts()):
        hides = hides_part(row["answered_count"], row["asked_count"], out.threshold)
        key = _NO_KEY.sub("_", row["category"].lower())
        out.put(
            "response_odds_ratio[{wave_id}|{known}: {category}]",
            wave.odds_ratio[:, place],
            hides=hides,
            wave_id=wave.wave_id,
            known=KNOWN_BEFORE[row["covariate"]],
            language=said(f"known.{row['covariate']}"),
            category=row["category"],
            # a name of the council's own stays as it is
            category_words=known_words(f"known.is.{key}", row["category"]),
        )


def _add_measured_again(out: Writer) -> None:
    """Add the headlines without the household's history, and at several odds of users."""
    year = out.year
    without, *likelier = (
        {name: float(draws[0]) for name, draws in headlines(measured, year).items()}
        for measured in (year.bounds.without_history, *year.bounds.if_users_likelier)
    )
    for headline in HEADLINES:
        one = out.catalogue[headline]
        words = one.labelled(**whole_year())
        shared = {"headline": headline, "words": words, "of_headline": one.unit}
        out.put("without_response_history[{headline}]", without[headline], shared)
        for odds, values in zip(USERS_ODDS, likelier, strict=True):
            name, words = "if_users_odds[{headline}|{odds}]", paper().significant(odds)
            out.put(name, values[headline], shared, odds=f"{odds:g}", odds_words=words)
    target = year.reporting_year.kept_out_of_landfill_t_target
    if target is not None:
        kept_out = np.array([values["kept_out_of_landfill_t"] for values in likelier])
        found = odds_at(kept_out, float(target))
        out.put("users_odds_at_target", found, why="why.no_odds_at_target")


def odds_at(kept_out: Numbers, target: float) -> float | None:
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
