"""Curves over time: bins in use by age, methane year by year, and cost for each tonne."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

import numpy as np

from planner.figures import Figure, FigureRegister
from planner.messages import said
from planner.report import style
from planner.report.charts.drawing import Drawing, Spot, column_spots, is_narrow, tick_words
from planner.report.charts.headline import TOTAL
from planner.report.charts.ranges import columns_of, limits, rows_in_words, with_value
from planner.report.wording import Wording

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MARK_MONTHS = 12


def retention_drawing(register: FigureRegister, wording: Wording) -> Drawing:
    """Chart of retention: the finding is the share in use after twelve months."""
    parts = register.parts("retention_by_age")
    by_age = {age: parts[str(age)] for age in sorted(map(int, parts))}
    ages = np.array(list(by_age))
    share, low, high = columns_of(by_age.values())
    after_a_year = register["retention_12_months"]

    def plot(axes: Axes) -> None:
        axes.fill_between(ages, low, high, facecolor=style.BAND, **style.EDGED)
        axes.plot(ages, share, color=style.MAIN, linewidth=2.2)
        _plot_observed(axes, register)
        _mark(axes, after_a_year.value or 0.0, wording.amount(after_a_year))
        step = 6 if ages[-1] <= 60 else 12
        axes.set_xticks(np.arange(0, ages[-1] + 1, step))
        axes.set_xlim(0, ages[-1])
        axes.set_ylim(0.0, 1.05)
        axes.set_xlabel(said("chart.retention.months_after"))
        axes.set_ylabel(said("chart.retention.share"))
        axes.yaxis.set_major_formatter(lambda tick, _: wording.share(tick))

    ages_in_words = "; ".join(
        said("chart.retention.at_age", age=age, share=wording.figure(by_age[age]))
        for age in (6, 12, 24, 36)
        if age in by_age
    )
    return Drawing(
        "retention_by_age",
        said("chart.retention.title", share=wording.figure(after_a_year)),
        said("chart.retention.caption"),
        said("chart.retention.alt", last=int(ages[-1]), ages=ages_in_words),
        plot,
        section="chain" if TOTAL in register else "results",
        spots=_spots(
            by_age, lambda age, one: said("chart.retention.spot", age=age, share=one), wording
        ),
    )


def _spots(
    figures: Mapping[int, Figure], words: Callable[[int, str], str], wording: Wording
) -> tuple[Spot, ...]:
    return tuple(
        Spot(one.id, words(place, wording.figure(one)), x=(place - 0.5, place + 0.5))
        for place, one in figures.items()
        if one.value is not None
    )


def _plot_observed(axes: Axes, register: FigureRegister) -> None:
    """Set the plain shares beside the curve, each in the middle of its band of ages."""
    for band, figure in register.parts("retention_observed").items():
        first, last = (float(edge) for edge in band.split("-"))
        middle = (first + last) / 2.0
        if figure.value is None or figure.low is None or figure.high is None:
            continue
        axes.vlines(middle, figure.low, figure.high, color=style.INK, linewidth=1.0)
        axes.plot(middle, figure.value, "s", mfc="white", mec=style.INK, ms=5)


def _mark(axes: Axes, share: float, words: str) -> None:
    axes.vlines(MARK_MONTHS, 0.0, share, color=style.MUTED, linewidth=1.0, linestyle=(0, (2, 2)))
    axes.plot([MARK_MONTHS], [share], marker="o", color=style.INK, markersize=6)
    axes.annotate(
        said("chart.retention.after_12", share=words),
        (MARK_MONTHS, 0.12),  # below any curve that a council would go on with
        (6, 0),
        textcoords="offset points",
        weight="bold",
        va="center",
    )


TICK_YEARS = 10
HEADROOM = 1.15


def decay_drawing(register: FigureRegister, wording: Wording) -> Drawing | None:
    """Chart of the decay: the finding is by when half of the methane would have come."""
    parts = with_value(register.parts("landfill_methane_avoided_by_year_t_co2e"))
    by_year = {year: parts[str(year)] for year in sorted(map(int, parts))}
    if not by_year:
        return None
    years, found = list(by_year), limits(by_year)
    total = register["landfill_methane_avoided_100_years_t_co2e"]
    sums = np.cumsum(found[:, 0])
    if sums[-1] <= 0.0:
        return None
    half = years[int(np.searchsorted(sums, sums[-1] / 2.0))]
    # what comes later is told in words
    most = int(np.searchsorted(sums, sums[-1] * 0.99))
    drawn = min(years[-1], (most // TICK_YEARS + 1) * TICK_YEARS)
    late, whole = wording.share(1.0 - sums[drawn] / sums[-1]), wording.figure(total)
    later = said("chart.decay.later", share=late)
    if late == wording.share(0.0):
        later = said("chart.decay.nothing_later")

    def plot(axes: Axes) -> None:
        shown = slice(0, drawn + 1)
        band = found[shown, 1], found[shown, 2]
        axes.fill_between(years[shown], *band, facecolor=style.BAND, **style.EDGED)
        axes.plot(years[shown], found[shown, 0], color=style.MAIN, linewidth=2.2)
        axes.set_xlim(0, drawn)
        axes.set_ylim(0.0, float(found[shown, 2].max()) * HEADROOM or 1.0)
        axes.set_xticks(np.arange(0, drawn + 1, TICK_YEARS))
        axes.set_xlabel(said("chart.decay.years_after", year=register.reporting_year))
        axes.set_ylabel(said("chart.decay.tonnes"))
        axes.yaxis.set_major_formatter(lambda tick, _: tick_words(tick, wording))

    return Drawing(
        "decay_by_year",
        said("chart.decay.within", half, total=whole)
        if half
        else said("chart.decay.in_year", total=whole),
        said("chart.decay.caption", year=register.reporting_year, later=later),
        said("chart.decay.alt", drawn=drawn, most=years[int(found[:, 0].argmax())], total=whole),
        plot,
        section="details",
        spots=_spots(
            {year: by_year[year] for year in years[: drawn + 1]},
            lambda year, amount: said("chart.decay.spot", year=year, amount=amount),
            wording,
        ),
    )


def costs_drawing(register: FigureRegister, wording: Wording) -> Drawing | None:
    """Chart of cost for each tonne kept out, from the start to the end of each year."""
    by_year = with_value(register.parts("cost_per_t_kept_out_through_year"))
    shown = dict(list(by_year.items())[-12:])
    if len(shown) < 2:
        return None
    (first, begun), (last, now) = next(iter(shown.items())), list(shown.items())[-1]
    return Drawing(
        "cost_per_t_by_year",
        _cost_title(first, begun, last, now, wording),
        said("chart.costs.caption"),
        said("chart.costs.alt", years=rows_in_words(shown, wording)),
        lambda axes: _plot_costs(axes, shown, wording),
        section="money",
        spots=column_spots(shown, wording),
    )


def _cost_title(first: str, begun: Figure, last: str, now: Figure, wording: Wording) -> str:
    has_fallen = now.high is not None and begun.low is not None and now.high < begun.low
    has_risen = now.low is not None and begun.high is not None and now.low > begun.high
    if not (has_fallen or has_risen):
        return said("chart.costs.title", cost=wording.figure(now), year=last)
    told = {"begun": wording.plain(begun), "first": first, "now": wording.plain(now), "last": last}
    return said("chart.costs.fell" if has_fallen else "chart.costs.rose", **told)


def _plot_costs(axes: Axes, shown: dict[str, Figure], wording: Wording) -> None:
    found, places = limits(shown), np.arange(len(shown))
    heights = found[:, 2] - found[:, 1]
    axes.bar(places, heights, 0.08, found[:, 1], color=style.BAND, **style.EDGED)
    axes.plot(places, found[:, 0], color=style.MAIN, marker="o", linewidth=1.6, markersize=6)
    for place, figure, high in zip(places, shown.values(), found[:, 2], strict=True):
        words = wording.plain(figure)
        axes.annotate(words, (place, high), (0, 4), textcoords="offset points", ha="center")
    named = places[::-1][:: 1 + len(shown) // 5 * is_narrow(axes)][::-1]
    axes.set_xticks(named, [list(shown)[place] for place in named])
    axes.set_xlim(-0.5, len(shown) - 0.5)
    axes.set_ylim(0.0, float(found[:, 2].max()) * HEADROOM)
    axes.set_ylabel(said("chart.costs.axis", currency=wording.currency))
    axes.yaxis.set_major_formatter(lambda tick, _: tick_words(tick, wording))
