"""Figures of the survey: calibration, prior routes, response, benchmark."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.report.disclosure import HIDDEN, hides_part, is_small
from planner.report.inputs import of_factors, of_query
from planner.report.retention_figures import add_retention
from planner.tables import PRIOR_SHARES

if TYPE_CHECKING:
    from planner.figures import FigureRegister, Input
    from planner.report.year import Year
    from planner.survey.weights import WaveWeights


def add_survey(register: FigureRegister, year: Year) -> None:
    """Add the figures of the survey rounds."""
    add_retention(register, year)
    _add_calibration(register, year)
    _add_routes(register, year)
    _add_rounds(register, year)


def _few_or(year: Year, count: int) -> str:
    threshold = year.program.privacy.small_cell_threshold
    return f"fewer than {threshold}" if is_small(count, threshold) else f"{count:,}"


def _add_calibration(register: FigureRegister, year: Year) -> None:
    calibration = year.diversion.calibration
    pairs = of_query("diary_pairs", year.counts.diaries)
    for name, label, draws, basis, count, factor_ids in (
        (
            "weighed_kg_per_reported_kg",
            "What a reported kilogram weighs",
            calibration.kg_per_reported_kg,
            calibration.kg_basis,
            calibration.kg_pairs_count,
            ("self_report_multiplier",),
        ),
        (
            "weighed_kg_per_reported_litre",
            "What a reported litre weighs",
            calibration.kg_per_reported_litre,
            calibration.litre_basis,
            calibration.litre_pairs_count,
            ("self_report_multiplier", "caddy_density_kg_per_litre"),
        ),
    ):
        register.add_draws(
            name,
            label,
            draws,
            "kg",
            f"From {basis}: {_few_or(year, count)} diary households reported in this unit.",
            (pairs, *_factors_unless_weighed(year, basis, factor_ids)),
        )


def _factors_unless_weighed(
    year: Year, basis: str, factor_ids: tuple[str, ...]
) -> tuple[Input, ...]:
    """Name the published factors that a calibration rests on; its own weighings need none."""
    if basis == "own weighings":
        return ()
    used = [factor for factor in year.feed_factors if factor.factor_id in factor_ids]
    return of_factors(year.factor_table, used)


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
