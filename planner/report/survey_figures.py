"""Figures of the survey: prior routes, response, weights, benchmark."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.report.disclosure import HIDDEN, hides_part, is_small
from planner.report.feed_figures import add_reported_feed
from planner.report.inputs import of_query
from planner.report.retention_figures import add_retention
from planner.tables import PRIOR_SHARES

if TYPE_CHECKING:
    from planner.figures import FigureRegister
    from planner.report.year import Year
    from planner.survey.weights import WaveWeights


def add_survey(register: FigureRegister, year: Year) -> None:
    """Add the figures of the survey rounds."""
    add_retention(register, year)
    add_reported_feed(register, year)
    _add_routes(register, year)
    _add_composters(register, year)
    _add_rounds(register, year)


def _add_routes(register: FigureRegister, year: Year) -> None:
    diversion = year.diversion
    months = diversion.cohorts.months_from(year.counts.from_date)
    by_route = diversion.fed_by_route_kg[:, :, months].sum(axis=2)
    shares = by_route / by_route.sum(axis=1, keepdims=True)
    for place, column in enumerate(PRIOR_SHARES):
        route = column.removeprefix("prior_").removesuffix("_share")
        register.add_draws(
            f"prior_route_share[{route}]",
            f"Share of the scraps that went to {route.replace('_', ' ')} before",
            shares[:, place],
            "share",
            "Baseline answers by area and dwelling, weighted by the scraps fed there in the year.",
            (of_query("prior_shares", year.counts.priors),),
        )


def _add_composters(register: FigureRegister, year: Year) -> None:
    """Add households that already composted, apart from the others."""
    found = year.diversion.composters
    threshold = year.program.privacy.small_cell_threshold
    if found is None or is_small(found.least_count, threshold):
        return
    landfilled = year.program.landfill.landfilled_share_of_residual_waste
    rule = "Baseline households that put any food scraps on a garden compost before, weighted. "
    for figure_id, label, draws, words in (
        (
            "already_composting_share",
            "Share of the households that already composted",
            found.household_share,
            "What they feed to worms moves mostly from the heap and is counted as moved.",
        ),
        (
            "landfill_share_by_habit[already_composted]",
            "Share landfilled before, of households that already composted",
            found.residual_bin_share * landfilled,
            "Their residual-bin share × share of residual waste that is landfilled.",
        ),
        (
            "landfill_share_by_habit[did_not_compost]",
            "Share landfilled before, of households that did not compost",
            found.others_residual_bin_share * landfilled,
            "The others' residual-bin share × share of residual waste that is landfilled.",
        ),
    ):
        register.add_draws(
            figure_id,
            label,
            draws,
            "share",
            f"{rule}{words}",
            (of_query("prior_shares", year.counts.priors),),
        )


def _add_rounds(register: FigureRegister, year: Year) -> None:
    frames = of_query("wave_frames", year.counts.frames)
    for wave in year.diversion.waves:
        answered, asked = wave.answered_count, wave.asked_count
        is_hidden = hides_part(answered, asked, year.program.privacy.small_cell_threshold)
        register.add_exact(
            f"response_share[{wave.wave_id}]",
            f"Share that answered in round {wave.wave_id}",
            None if is_hidden else answered / asked,
            "share",
            HIDDEN if is_hidden else f"{answered:,} of {asked:,} households asked.",
            (frames,),
        )
        register.add_exact(
            f"weights_design_effect[{wave.wave_id}]",
            f"Loss of precision by unequal weights in round {wave.wave_id}",
            wave.design_effect,
            "ratio",
            _weights_method(wave),
            (frames, of_query("households_by_wave", year.counts.households)),
        )
    levels = year.diversion.benchmark
    for place, wave_id in enumerate(levels.wave_ids):
        day = levels.mean_dates[place]
        register.add_draws(
            f"surveyed_to_modelled_feed[{wave_id}]",
            f"Surveyed over modelled feed in round {wave_id}",
            levels.ratios[:, place],
            "ratio",
            f"Same answers, same weights, around {day:%Y-%m-%d}. The months between rounds take "
            "ratios between theirs.",
            (of_query("followup_answers", year.counts.followup),),
        )


def _weights_method(wave: WaveWeights) -> str:
    """Say how a round's answers were weighed."""
    cut = (
        "Very large weights were cut, what was cut given to the others and the counts met again."
        if wave.cut_count
        else "No weight was so large as to be cut."
    )
    return (
        "Kish's design effect: 1 where all weights are equal. One over the chance of being "
        "asked, times those asked over those who answered in each stratum (strata with fewer "
        f"than ten answers together), made to agree with {wave.words}. {cut} All of it anew in "
        "every replicate."
    )
