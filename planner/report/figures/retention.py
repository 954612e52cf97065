"""Figures of retention: the curve, what the answers alone say, and whether the two agree."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Numbers, quotient
from planner.figures import INTERVAL_PERCENT
from planner.messages import paper, said
from planner.program import label_of_date
from planner.report.disclosure.parts import hidden_parts, hides_part, is_small
from planner.report.wording import listing
from planner.survey.retention import active_months
from planner.survey.stopping_season import NO_SEASON, SeasonBelief
from planner.units import KG_PER_T

if TYPE_CHECKING:
    from planner.diversion.measured import Diversion
    from planner.diversion.town_year import InUse, TownYear
    from planner.report.figures.writer import Writer
    from planner.report.year import Year

LONGEST_AGE_MONTHS = 36
"""The curve is printed to here, or to the oldest bin asked about where that is later."""

NONPARAMETRIC_STEP_MONTHS = 3

HEADLINES = ("retention_12_months", "bins_in_use", "kept_out_of_landfill_t")
"""What is also measured as if those who did not answer were otherwise than those who did."""


def add_retention(out: Writer) -> None:
    """Add the figures of retention."""
    add_curve(out, out.year.diversion)
    _add_observed(out)
    _add_nonparametric(out)
    check = out.year.diversion.estimates.retained.check
    gap = check.greatest_gap if check.to_months.size else None
    out.put("retention_curve_gap", gap, why=check.sentence, said=check.sentence)
    _add_bin_months(out)
    add_bins_by_year(out)
    _add_bounds(out)


def share_at(town: TownYear | InUse, ages: Numbers) -> Numbers:
    """Share in use at each age, over dwellings by their bins, shape (draws, ages)."""
    bins = town.cohorts.bins_given.sum(axis=(0, 1))
    curves = town.retained.of_town_at(ages)
    parts = [
        part * curve.in_use_share(ages)
        for part, curve in zip(bins / bins.sum(), curves, strict=True)
    ]
    return np.asarray(np.sum(parts, axis=0))


def add_curve(out: Writer, town: Diversion | InUse) -> None:
    """Add the share in use at each age."""
    retained = town.retained
    curve = retained.curves[0]
    oldest = int(np.ceil(curve.oldest_months))
    ages = np.arange(max(LONGEST_AGE_MONTHS, oldest) + 1, dtype=float)
    share = share_at(town, ages)
    language, knots = paper(), curve.knots_months
    known = said("said.known_share", share=paper().share(retained.known.share))
    words = {
        "shape": said("said.shape", ages=listing(language.number(one, 1) for one in knots))
        if len(knots)
        else "",
        "spread": language.number(retained.spread, 2),
        "season": f"{known} {_season_words(retained.season)}",
        "answers": _answers_words(town, out.threshold, curve.answers_count, curve.stopped_count),
        "oldest": oldest,
    }
    for age in (3, 6, 12, 24):
        out.put(f"retention_{age}_months", share[:, age], words)
    for age in ages.astype(int):
        out.put("retention_by_age[{age}]", share[:, age], words, age=age)


def _season_words(belief: SeasonBelief) -> str:
    words, season = paper(), belief.seasons[belief.central]
    if belief.of_any == 0.0:
        return ""
    if season == NO_SEASON:
        return said("said.no_season", chance=words.share(belief.of_any)) + " "
    peak = season.peak_month
    pace = float(np.exp(season.log_pace(np.array(peak))))
    month = words.month_name(1 + int(peak))
    chance = words.share(belief.of_any)
    return said("said.season", pace=words.number(pace, 1), month=month, chance=chance) + " "


def _add_observed(out: Writer) -> None:
    observed = out.year.diversion.observed
    bands = zip(observed.from_months, observed.to_months, strict=True)
    hidden = hidden_parts(observed.answers_count, out.threshold)
    hides_a_round = _hides_a_round(out.year.diversion, out.threshold)
    for place, (first, last) in enumerate(bands):
        count = int(observed.answers_count[place])
        answers = said("said.the_answers") if hides_a_round else said("said.answers_of_band", count)
        words = {"first": first, "last": last, "answers": answers}
        words["mean_months"] = paper().number(observed.mean_months[place], 1)
        share = observed.in_use_share[:, place]
        out.put("retention_observed[{first}-{last}]", share, words, hides=place in hidden)


def _add_nonparametric(out: Writer) -> None:
    free = out.year.diversion.estimates.retained.nonparametric
    ages = free.determined_ages()
    ages = np.arange(NONPARAMETRIC_STEP_MONTHS, ages.max(initial=0.0), NONPARAMETRIC_STEP_MONTHS)
    low, high = free.bounds(ages)
    gaps = free.undetermined()
    for place, age in enumerate(ages.astype(int)):
        around = [gap for gap in gaps if gap[0] < age < gap[1]]
        value = float(low[0, place] + high[0, place]) / 2.0
        lowest = float(np.percentile(low[1:, place], INTERVAL_PERCENT[0]))
        highest = float(np.percentile(high[1:, place], INTERVAL_PERCENT[1]))
        words = _gap_words(around, float(low[0, place]), float(high[0, place]))
        spread = (value, min(value, lowest), max(value, highest))
        out.put("retention_nonparametric[{age}]", spread, age=age, said=words)


def _gap_words(around: list[tuple[float, float]], lowest: float, highest: float) -> str:
    words = paper()
    if not around:
        return said("said.share_is_fixed")
    begin, end = around[0]
    between = {"low": words.number(lowest, 3), "high": words.number(highest, 3)}
    if np.isinf(end):
        return said("said.gap_for_good", begin=words.number(begin, 1), **between)
    ages = {"begin": words.number(begin, 1), "end": words.number(end, 1)}
    return said("said.gap_until", **ages, **between)


def _add_bin_months(out: Writer) -> None:
    """Add bin-months in use by month of hand-over, hidden where few bins were given."""
    given = out.year.diversion.cohorts
    curves = out.year.diversion.estimates.retention
    age = given.age_at_month_end()[-1]
    by_cohort = np.asarray(
        sum(
            given.bins_given[:, :, code].sum(axis=1) * active_months(curve, age, given.entry_months)
            for code, curve in enumerate(curves)
        )
    )
    out.put("bin_months_in_use_to_date", by_cohort.sum(axis=1))
    for place, day in enumerate(given.months):
        month = f"{day:%Y-%m}"
        hides = out.register[f"bins_given_in_month[{month}]"].value is None
        out.put("bin_months_in_use[{month}]", by_cohort[:, place], hides=hides, month=month)


def add_bins_by_year(out: Writer) -> None:
    """Add bins in use at the reporting year's end, by the year in which they were given.

    Counts of first bins by year are not told: beside the bins given they would tell how few
    households took a second one.
    """
    first_month = out.year.program.council.reporting_year_first_month
    cohorts = out.year.diversion.cohorts
    labels = np.array([label_of_date(month, first_month) for month in cohorts.months])
    names = list(dict.fromkeys(labels.tolist()))
    given = cohorts.bins_given.sum(axis=1)
    begun = [int(given[labels == name].sum()) for name in names]
    hidden = hidden_parts(begun, out.threshold)
    ages, curves = cohorts.age_at_month_end()[-1], out.year.diversion.estimates.retention
    in_use = np.asarray(
        sum(
            curve.in_use_share(ages, cohorts.entry_months) * given[:, code]
            for code, curve in enumerate(curves)
        )
    )
    in_use = in_use * out.year.diversion.still_held_share
    for place, name in enumerate(names):
        found = in_use[:, labels == name].sum(axis=1)
        out.put("bins_in_use_by_year_given[{label}]", found, hides=place in hidden, label=name)


def headlines(measured: TownYear, year: Year) -> dict[str, Numbers]:
    """Draws of the headline figures of a year that was measured in some way."""
    months = year.diversion.cohorts.months_from(year.counts.from_date)
    return {
        "retention_12_months": share_at(measured, np.array([12.0]))[:, 0],
        "bins_in_use": measured.bins_in_use[:, -1],
        "kept_out_of_landfill_t": measured.kept_out_kg[:, months].sum(axis=1) / KG_PER_T,
    }


def _add_bounds(out: Writer) -> None:
    """Add what the headlines would be had all who did not answer kept, or stopped.

    The curve of an extreme knows less of old bins than its shape claims. So beyond the oldest
    bin heard of those left go on as the estimate's do, where that lies farther out, and no
    bound crosses the estimate.
    """
    measured, bounds = out.year.diversion, out.year.bounds
    estimated = headlines(measured, out.year)
    for code, extreme, farther in (
        ("kept", bounds.if_kept, np.maximum),
        ("stopped", bounds.if_stopped, np.minimum),
    ):
        found = headlines(extreme, out.year)
        rows = min(found["bins_in_use"].size, estimated["bins_in_use"].size)
        others = {name: draws[:rows] for name, draws in estimated.items()}
        others["retention_12_months"] = _carried_on(extreme, measured, rows, farther)
        for name, draws in found.items():
            is_farther = farther(draws[0], others[name][0]) == draws[0]
            out.put(f"{name}_if_silent_{code}", draws if is_farther else others[name])


def _carried_on(extreme: TownYear, measured: TownYear, rows: int, farther: np.ufunc) -> Numbers:
    """Share after 12 months of what is left in an extreme at the oldest age heard of."""
    ages = np.array([min(12.0, measured.estimates.oldest_months), 12.0])
    known, later = share_at(measured, ages)[:rows].T
    left = share_at(extreme, ages)[:rows, 0]
    return np.asarray(later * farther(1.0, quotient(left, known, otherwise=1.0)))


def _answers_words(town: Diversion | InUse, threshold: int, answers: int, stopped: int) -> str:
    """Count answers and those of bins out of use, where neither tells of a few."""
    if _hides_a_round(town, threshold):
        return said("said.answers_of_all")
    if hides_part(stopped, answers, threshold):
        if is_small(answers, threshold):
            return said("said.answers_few", threshold=threshold)
        return said("said.answers", answers)
    return said("said.answers_stopped", answers, stopped=stopped)


def _hides_a_round(town: Diversion | InUse, threshold: int) -> bool:
    """Whether the answers of a round are not shown, which sums over rounds would tell."""
    return any(hides_part(wave.answered_count, wave.asked_count, threshold) for wave in town.waves)
