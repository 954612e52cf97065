"""Figures of the survey: what reports weigh, prior routes, response, weights, benchmark."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from planner.messages import paper
from planner.report.disclosure import HIDDEN, hides_part, is_small
from planner.report.figures.declaring import OF_WORMS, WEIGHTS, Declared
from planner.tables import PRIOR_SHARES

if TYPE_CHECKING:
    from planner.report.figures.declaring import Writer
    from planner.report.year import Year
    from planner.survey.feed import UnitCalibration
    from planner.survey.weights import WaveWeights

OWN_WEIGHINGS = "own weighings"
_NO_KEY = re.compile(r"[^a-z]+")
ROUTES = [column.removeprefix("prior_").removesuffix("_share") for column in PRIOR_SHARES]
ANSWERS, PRIORS = f"query:followup_answers {WEIGHTS}", f"query:prior_shares {WEIGHTS}"

FIGURES = (
    Declared(
        "weighed_kg_per_reported_kg",
        "kg",
        f"query:diary_pairs query:followup_answers {WEIGHTS} {{factors}}",
        ("calibration",),
        method="{said}",
    ),
    Declared(
        "weighed_kg_per_reported_litre",
        "kg",
        f"query:diary_pairs query:followup_answers {WEIGHTS} {{factors}}",
        ("calibration",),
        method="{said}",
    ),
    Declared("heaping_index[{grid}]", "ratio", ANSWERS),
    Declared("run_in_surveyed_to_modelled", "ratio", ANSWERS),
    Declared("winsorised_feed_change", "share", f"{ANSWERS} query:diary_pairs"),
    *(
        Declared(
            f"prior_route_share[{route}]",
            "share",
            f"{PRIORS} recall_difference fed_t",
            ("routes",),
            method="prior_routes",
        )
        for route in ROUTES
    ),
    Declared(
        "already_composting_share", "share", PRIORS, ("composters",), method="composted_before own"
    ),
    Declared(
        "landfill_share_by_habit[already_composted]",
        "share",
        f"{PRIORS} key:landfill.landfilled_share_of_residual_waste",
        ("composters",),
        method="composted_before own",
    ),
    Declared(
        "landfill_share_by_habit[did_not_compost]",
        "share",
        f"{PRIORS} key:landfill.landfilled_share_of_residual_waste",
        ("composters",),
        method="composted_before own",
    ),
    Declared("response_share[{wave_id}]", "share", "query:wave_frames", ("rounds",)),
    Declared(
        "weights_design_effect[{wave_id}]",
        "ratio",
        WEIGHTS,
        method="own {again} {cut} again_in_replicates",
    ),
    Declared(
        "surveyed_to_modelled_feed[{wave_id}]",
        "ratio",
        f"{ANSWERS} query:diary_pairs retention_12_months {OF_WORMS}",
        ("rounds",),
    ),
)


def add_survey(out: Writer) -> None:
    """Add what the survey rounds found of feed and prior routes, and how they were weighted."""
    _add_calibration(out)
    _add_reports(out)
    _add_routes(out)
    _add_composters(out)
    _add_rounds(out)


def _add_calibration(out: Writer) -> None:
    found = out.year.diversion.calibration
    for name, line, factors in (
        ("weighed_kg_per_reported_kg", found.of_kg, "factor:self_report_multiplier"),
        (
            "weighed_kg_per_reported_litre",
            found.of_litres,
            "factor:self_report_multiplier factor:caddy_density_kg_per_litre",
        ),
    ):
        # its own weighings need no published factor
        used = "" if line.basis == OWN_WEIGHINGS else factors
        out.put(name, line.kg_per_unit, said=_calibration_method(out.year, line), factors=used)


def _calibration_method(year: Year, line: UnitCalibration) -> str:
    threshold = year.program.privacy.small_cell_threshold
    say, few = paper(), is_small(line.pairs_count, threshold)
    count = say.say("said.fewer", threshold=threshold) if few else say.number(line.pairs_count)
    basis = _NO_KEY.sub("_", line.basis)
    words = say.say(f"said.weighing.{basis}", count=count)
    if line.basis != OWN_WEIGHINGS:
        return f"{words} {say.say('said.ten_or_more')}"
    line_of = {"start": say.number(line.intercept, 2), "slope": say.number(line.slope, 2)}
    chosen = (
        say.say("said.regression", **line_of)
        if line.estimator == "regression"
        else say.say("said.ratio_estimate")
    )
    correlation = say.number(line.correlation_squared, 2)
    return f"{words} {chosen} {say.say('said.double_sampling', correlation=correlation)}"


def _add_reports(out: Writer) -> None:
    """Add how round the reports are, how young bins are fed, and what outliers would do."""
    reported, fit = out.year.diversion.reported, out.year.diversion.run_in
    threshold = out.year.program.privacy.small_cell_threshold
    for grid, found in reported.heaping.items():
        if not is_small(found.reports_count, threshold):
            out.put(
                "heaping_index[{grid}]",
                found.index,
                grid=grid,
                grid_words=paper().say(f"said.grid.{grid}"),
                within=paper().say(f"said.within.{grid}"),
                expected=paper().share(found.expected_share),
            )
    if fit.is_known and not is_small(fit.young_count, threshold):
        young, settled = int(fit.young_count), int(fit.settled_count)
        out.put("run_in_surveyed_to_modelled", fit.ratio, young=young, settled=settled)
    out.put("winsorised_feed_change", reported.change_share)


def _add_routes(out: Writer) -> None:
    diversion = out.year.diversion
    months = diversion.cohorts.months_from(out.year.counts.from_date)
    by_route = diversion.fed_by_route_kg[:, :, months].sum(axis=2)
    shares = by_route / by_route.sum(axis=1, keepdims=True)
    for place, route in enumerate(ROUTES):
        out.put(f"prior_route_share[{route}]", shares[:, place])


def _add_composters(out: Writer) -> None:
    """Add households that already composted, apart from the others."""
    found = out.year.diversion.composters
    if found is None or is_small(found.least_count, out.year.program.privacy.small_cell_threshold):
        return
    landfilled = out.year.program.landfill.landfilled_share_of_residual_waste
    habit = "landfill_share_by_habit"
    out.put("already_composting_share", found.household_share)
    out.put(f"{habit}[already_composted]", found.residual_bin_share * landfilled)
    out.put(f"{habit}[did_not_compost]", found.others_residual_bin_share * landfilled)


def _add_rounds(out: Writer) -> None:
    threshold = out.year.program.privacy.small_cell_threshold
    for wave in out.year.diversion.waves:
        answered, asked = wave.answered_count, wave.asked_count
        out.put(
            "response_share[{wave_id}]",
            None if hides_part(answered, asked, threshold) else answered / asked,
            why=HIDDEN,
            wave_id=wave.wave_id,
            answered=answered,
            asked=asked,
        )
        out.put(
            "weights_design_effect[{wave_id}]",
            wave.design_effect,
            wave_id=wave.wave_id,
            agrees_with=wave.words,
            again=_again_words(wave),
            cut=_cut_words(wave),
        )
    levels = out.year.diversion.benchmark
    for place, wave_id in enumerate(levels.wave_ids):
        out.put(
            "surveyed_to_modelled_feed[{wave_id}]",
            levels.ratios[:, place],
            wave_id=wave_id,
            day=f"{levels.mean_dates[place]:%Y-%m-%d}",
        )


def _again_words(wave: WaveWeights) -> str:
    """Say whether some of the silent were asked again, and what their answers stand for."""
    if not wave.again_count:
        return ""
    answered = wave.answered_again_count
    return paper().say("said.asked_again", asked=wave.again_count, answered=answered)


def _cut_words(wave: WaveWeights) -> str:
    return paper().say("said.weights_cut" if wave.cut_count else "said.no_weight_cut")
