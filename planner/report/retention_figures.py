"""Figures of retention: the curve, what the answers alone say, and whether the two agree."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.figures import INTERVAL_PERCENT, Figure
from planner.report.disclosure import HIDDEN, hidden_parts, hides_part, is_small
from planner.report.inputs import of_figures, of_query
from planner.survey.retention import active_months
from planner.units import KG_PER_T

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.diversion.measured import Diversion
    from planner.figures import FigureRegister
    from planner.report.year import Year

HEADLINE_AGES_MONTHS = (3, 6, 12, 24)
LONGEST_AGE_MONTHS = 36
"""The curve is printed to here, or to the oldest bin asked about where that is later."""

NONPARAMETRIC_STEP_MONTHS = 3


def add_retention(register: FigureRegister, year: Year) -> None:
    """Add the figures of retention."""
    _add_curve(register, year)
    _add_observed(register, year)
    _add_nonparametric(register, year)
    _add_check(register, year)
    _add_bin_months(register, year)
    _add_bounds(register, year)


def _share_at(diversion: Diversion, ages: NDArray[np.float64]) -> NDArray[np.float64]:
    """Share in use at each age, over dwellings by their bins, shape (draws, ages)."""
    bins = diversion.cohorts.bins_given.sum(axis=(0, 1))
    curves = diversion.estimates.retention
    parts = [
        part * curve.in_use_share(ages)
        for part, curve in zip(bins / bins.sum(), curves, strict=True)
    ]
    return np.asarray(np.sum(parts, axis=0))


def _add_curve(register: FigureRegister, year: Year) -> None:
    oldest = int(np.ceil(year.diversion.estimates.retained.pooled.oldest_months))
    ages = np.arange(max(LONGEST_AGE_MONTHS, oldest) + 1, dtype=float)
    share, method = _share_at(year.diversion, ages), _method(year, oldest)
    inputs = (of_query("use_intervals", year.counts.use_intervals),)
    for age in HEADLINE_AGES_MONTHS:
        register.add_draws(
            f"retention_{age}_months",
            f"Share of bins still in use {age} months after the hand-over",
            share[:, age],
            "share",
            method,
            inputs,
        )
    for age in ages.astype(int):
        register.add_draws(
            f"retention_by_age[{age}]",
            f"Share of bins in use {age} months after the hand-over",
            share[:, age],
            "share",
            method,
            inputs,
        )


def _method(year: Year, oldest: int) -> str:
    retained = year.diversion.estimates.retained
    knots = " and ".join(f"{age:.1f}" for age in retained.pooled.knots_months)
    shape = f"of a shape that may change at {knots} months, " if knots else ""
    own = ", ".join(retained.own) or "none"
    return (
        f"Weibull curve {shape}through the ages between which bins stopped, under survey "
        "weights: known to the day for bins that came back, between answers or within a month "
        "of a recalled day for others, not yet for those in use. Dwellings with a curve of "
        f"their own (fifty answers, five of each state): {own}. "
        f"{_answers_words(year, retained.pooled.answers_count, retained.pooled.stopped_count)}, "
        f"the oldest {oldest} months after the hand-over; later ages carry the curve on."
    )


def _add_observed(register: FigureRegister, year: Year) -> None:
    observed = year.diversion.estimates.observed
    bands = zip(observed.from_months, observed.to_months, strict=True)
    hidden = hidden_parts(observed.answers_count, year.program.privacy.small_cell_threshold)
    for place, (first, last) in enumerate(bands):
        name = f"retention_observed[{first}-{last}]"
        words = f"Share in use of the bins asked about at {first} to {last} months"
        if place in hidden:
            register.add(Figure(name, words, None, None, None, "share", HIDDEN))
            continue
        register.add_draws(
            name,
            words,
            observed.in_use_share[:, place],
            "share",
            f"Plain weighted share of {_answers_of_band(year, place)}, at a mean age "
            f"of {observed.mean_months[place]:.1f} months.",
            (of_query("followup_answers", year.counts.followup),),
        )


def _add_nonparametric(register: FigureRegister, year: Year) -> None:
    free = year.diversion.estimates.retained.nonparametric
    ages = free.determined_ages()
    ages = np.arange(NONPARAMETRIC_STEP_MONTHS, ages.max(initial=0.0), NONPARAMETRIC_STEP_MONTHS)
    low, high = free.bounds(ages)
    gaps = free.undetermined()
    for place, age in enumerate(ages.astype(int)):
        around = [gap for gap in gaps if gap[0] < age < gap[1]]
        value = float(low[0, place] + high[0, place]) / 2.0
        lowest = float(np.percentile(low[1:, place], INTERVAL_PERCENT[0]))
        highest = float(np.percentile(high[1:, place], INTERVAL_PERCENT[1]))
        register.add(
            Figure(
                f"retention_nonparametric[{age}]",
                f"Share of bins in use {age} months after the hand-over, by the answers alone",
                value,
                min(value, lowest),
                max(value, highest),
                "share",
                _nonparametric_method(around, float(low[0, place]), float(high[0, place])),
                (of_query("use_intervals", year.counts.use_intervals),),
            )
        )


def _nonparametric_method(around: list[tuple[float, float]], lowest: float, highest: float) -> str:
    words = (
        "Turnbull's estimate: the likeliest distribution of the ages of stopping, with no "
        "formula behind it, under survey weights. "
    )
    if not around:
        return f"{words}The answers fix the share at this age."
    begin, end = around[0]
    until = "for good" if np.isinf(end) else f"until {end:.1f} months"
    return (
        f"{words}From {begin:.1f} months {until} the answers do not say when bins stopped: the "
        f"share lies between {lowest:.3f} and {highest:.3f}; the middle is shown."
    )


def _add_check(register: FigureRegister, year: Year) -> None:
    check = year.diversion.estimates.retained.check
    register.add_exact(
        "retention_curve_gap",
        "Largest distance of the fitted curve from what the answers alone say",
        check.greatest_gap if check.to_months.size else None,
        "share",
        check.sentence,
        of_figures("retention_12_months"),
    )


def _add_bin_months(register: FigureRegister, year: Year) -> None:
    """Add bin-months in use by month of hand-over, hidden where few bins were given."""
    given = year.diversion.cohorts
    curves = year.diversion.estimates.retention
    age = given.age_at_month_end()[-1]
    months = sum(
        given.bins_given[:, :, code].sum(axis=1) * active_months(curve, age)
        for code, curve in enumerate(curves)
    )
    by_cohort = np.asarray(months)
    method = (
        "Households given a bin in the month × mean months in use of a bin up to the age "
        "reached, the area under the retention curve."
    )
    inputs = (
        of_query("handovers_by_month", year.counts.handovers),
        *of_figures("retention_12_months"),
    )
    label = "Months in use to date of all bins"
    register.add_draws(
        "bin_months_in_use_to_date", label, by_cohort.sum(axis=1), "bin-months", method, inputs
    )
    for place, month in enumerate(given.months):
        cohort = f"{month:%Y-%m}"
        name, words = f"bin_months_in_use[{cohort}]", f"{label} given in {cohort}"
        if register[f"bins_given_in_month[{cohort}]"].value is None:
            register.add(Figure(name, words, None, None, None, "bin-months", HIDDEN))
            continue
        register.add_draws(name, words, by_cohort[:, place], "bin-months", method, inputs)


def _add_bounds(register: FigureRegister, year: Year) -> None:
    """Add what the headline would be had all who did not answer kept, or stopped."""
    months = year.diversion.cohorts.months_from(year.counts.from_date)
    for code, words, measured in (
        ("kept", "had kept their bin", year.bounds.kept),
        ("stopped", "had stopped", year.bounds.stopped),
    ):
        method = (
            f"As if every household that a follow-up asked in vain {words} when it was asked, "
            "with its base weight and, where it uses its bin, the feed of those who answered; "
            "what is known of it from other rounds or bins that came back stays. Nothing is "
            "assumed of the silent, so the truth lies between the two bounds but for the error "
            "of sampling, which the interval holds."
        )
        kept_out = measured.kept_out_kg[:, :, months].sum(axis=(1, 2)) / KG_PER_T
        for whole, label, draws, unit in (
            (
                "retention_12_months",
                "Share of bins still in use 12 months after the hand-over",
                _share_at(measured, np.array([12.0]))[:, 0],
                "share",
            ),
            (
                "bins_in_use",
                "Bins in use at the end of the year",
                measured.bins_in_use[:, :, -1].sum(axis=1),
                "bins",
            ),
            (
                "kept_out_of_landfill_t",
                "Food scraps kept out of landfill in the year",
                kept_out,
                "t",
            ),
        ):
            register.add_draws(
                f"{whole}_if_silent_{code}",
                f"{label}, if all who did not answer {words}",
                draws,
                unit,
                method,
                of_figures(whole),
            )


def _answers_words(year: Year, answers: int, stopped: int) -> str:
    """Count answers and those of bins out of use, where neither tells of a few."""
    threshold = year.program.privacy.small_cell_threshold
    if _hides_a_round(year):
        return "The answers of all rounds"
    if hides_part(stopped, answers, threshold):
        few = f"Fewer than {threshold}" if is_small(answers, threshold) else f"{answers:,}"
        return f"{few} answers"
    return f"{answers:,} answers, {stopped:,} of them of bins known to be out of use"


def _answers_of_band(year: Year, place: int) -> str:
    count = year.diversion.estimates.observed.answers_count[place]
    return "the answers" if _hides_a_round(year) else f"{count:,} answers"


def _hides_a_round(year: Year) -> bool:
    """Whether the answers of a round are not shown, which sums over rounds would tell."""
    threshold = year.program.privacy.small_cell_threshold
    return any(
        hides_part(wave.answered_count, wave.asked_count, threshold)
        for wave in year.diversion.waves
    )
