"""Figures of the survey: what reports weigh, prior routes, response, weights, benchmark."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.report.disclosure import HIDDEN, hides_part, is_small
from planner.report.figures.declaring import OF_WORMS, WEIGHTS, Declared
from planner.tables import PRIOR_SHARES

if TYPE_CHECKING:
    from planner.report.figures.declaring import Writer
    from planner.report.year import Year
    from planner.survey.feed import UnitCalibration
    from planner.survey.weights import WaveWeights

OWN_WEIGHINGS = "own weighings"
GRID_WORDS = {
    "half_kg": ("half kilograms", "tenths of a kilogram"),
    "whole_litre": ("whole litres", "tenths of a litre"),
    "five_litre": ("fives of litres", "whole litres"),
}
ROUTES = [column.removeprefix("prior_").removesuffix("_share") for column in PRIOR_SHARES]
COMPOSTED = (
    "Baseline households that put any food scraps on a garden compost before, weighted. {said}"
)
ANSWERS, PRIORS = f"query:followup_answers {WEIGHTS}", f"query:prior_shares {WEIGHTS}"

FIGURES = (
    Declared(
        "weighed_kg_per_reported_kg",
        "What a reported kilogram weighs",
        "kg",
        "{said}",
        f"query:diary_pairs query:followup_answers {WEIGHTS} {{factors}}",
        {"calibration": ""},
    ),
    Declared(
        "weighed_kg_per_reported_litre",
        "What a reported litre weighs",
        "kg",
        "{said}",
        f"query:diary_pairs query:followup_answers {WEIGHTS} {{factors}}",
        {"calibration": ""},
    ),
    Declared(
        "heaping_index[{grid}]",
        "Reports on {grid_words} over those expected there by chance",
        "ratio",
        "Of the reports above nothing written to {within}, the weighted share on {grid_words} over "
        "the {expected} that chance would put there: 1 is no rounding. "
        "Rounding up and down about even out in a mean; the diaries take out what is left.",
        ANSWERS,
    ),
    Declared(
        "run_in_surveyed_to_modelled",
        "Feed of bins in their first three months, surveyed over modelled, against settled bins",
        "ratio",
        "Same rounds, same weights; {young} answers of young bins and "
        "{settled} of settled ones. The model's run-in is scaled by it.",
        ANSWERS,
    ),
    Declared(
        "winsorised_feed_change",
        "What bringing in the largest and smallest reports changed the feed by",
        "share",
        "In each round and unit with ten reports above nothing the largest is set to the second "
        "largest and the smallest to the second smallest, so that no single report decides.",
        f"{ANSWERS} query:diary_pairs",
    ),
    *(
        Declared(
            f"prior_route_share[{route}]",
            f"Share of the scraps that went to {route.replace('_', ' ')} before",
            "share",
            "Baseline answers by area and dwelling, weighted by the scraps fed there in the year.",
            f"{PRIORS} recall_difference fed_t",
            {"routes": route.replace("_", " ")},
        )
        for route in ROUTES
    ),
    Declared(
        "already_composting_share",
        "Share of the households that already composted",
        "share",
        COMPOSTED.format(
            said="What they feed to worms moves mostly from the heap and is counted as moved."
        ),
        PRIORS,
        {"composters": ""},
    ),
    Declared(
        "landfill_share_by_habit[already_composted]",
        "Share landfilled before, of households that already composted",
        "share",
        COMPOSTED.format(said="Their residual-bin share × share of residual waste landfilled."),
        f"{PRIORS} key:landfill.landfilled_share_of_residual_waste",
        {"composters": ""},
    ),
    Declared(
        "landfill_share_by_habit[did_not_compost]",
        "Share landfilled before, of households that did not compost",
        "share",
        COMPOSTED.format(
            said="The others' residual-bin share × share of residual waste landfilled."
        ),
        f"{PRIORS} key:landfill.landfilled_share_of_residual_waste",
        {"composters": ""},
    ),
    Declared(
        "response_share[{wave_id}]",
        "Share that answered in round {wave_id}",
        "share",
        "{answered} of {asked} households asked.",
        "query:wave_frames",
        {"rounds": "Answered, of those asked"},
    ),
    Declared(
        "weights_design_effect[{wave_id}]",
        "Loss of precision by unequal weights in round {wave_id}",
        "ratio",
        "Kish's design effect: 1 where all weights are equal. One over the chance of being "
        "asked and over the modelled chance of an answer, made to agree with {agrees_with}. A "
        "household that told before that it had stopped needs no answer; a bin that came back "
        "stands for itself. {again}{cut} All of it again in every replicate.",
        WEIGHTS,
    ),
    Declared(
        "surveyed_to_modelled_feed[{wave_id}]",
        "Surveyed over modelled feed in round {wave_id}",
        "ratio",
        "Same answers, same weights, around {day:%Y-%m-%d}. The months between rounds take "
        "ratios between theirs.",
        f"{ANSWERS} query:diary_pairs retention_12_months {OF_WORMS}",
        {"rounds": "Surveyed over modelled feed"},
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
    few = is_small(line.pairs_count, threshold)
    count = f"fewer than {threshold}" if few else f"{line.pairs_count:,}"
    words = f"From {line.basis}: {count} diary households reported in this unit."
    if line.basis != OWN_WEIGHINGS:
        return f"{words} With ten or more their own weighings are used."
    chosen = (
        f"Regression, {line.intercept:.2f} kg + {line.slope:.2f} × what is reported, as the "
        "line through thirty pairs or more clearly misses the origin; the figure is what it "
        "gives over all that was reported, and rounds and dwellings take theirs in proportion."
        if line.estimator == "regression"
        else "Ratio of weighed to reported, as fewer than thirty pairs or a line that does not "
        "clearly miss the origin speak for no other."
    )
    return (
        f"{words} {chosen} Double sampling: the interval is that of both the survey and the "
        f"diaries. Squared correlation of weighed and reported: {line.correlation_squared:.2f}."
    )


def _add_reports(out: Writer) -> None:
    """Add how round the reports are, how young bins are fed, and what outliers would do."""
    reported, fit = out.year.diversion.reported, out.year.diversion.run_in
    threshold = out.year.program.privacy.small_cell_threshold
    for grid, found in reported.heaping.items():
        if not is_small(found.reports_count, threshold):
            grid_words, within = GRID_WORDS[grid]
            out.put(
                "heaping_index[{grid}]",
                found.index,
                grid=grid,
                grid_words=grid_words,
                within=within,
                expected=f"{found.expected_share:.0%}",
            )
    if fit.is_known and not is_small(fit.young_count, threshold):
        young, settled = f"{fit.young_count:,}", f"{fit.settled_count:,}"
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
            answered=f"{answered:,}",
            asked=f"{asked:,}",
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
            day=levels.mean_dates[place],
        )


def _again_words(wave: WaveWeights) -> str:
    """Say whether some of the silent were asked again, and what their answers stand for."""
    if not wave.again_count:
        return ""
    return (
        f"Of those silent {wave.again_count:,} were drawn and asked again, and "
        f"{wave.answered_again_count:,} answered: they carry the weight of all the silent, and the "
        "chance of an answer is that of being reached then. "
    )


def _cut_words(wave: WaveWeights) -> str:
    if wave.cut_count:
        return (
            "The largest weights were cut, what was cut given to the others and the counts met "
            "again."
        )
    return "No weight was so large as to be cut."
