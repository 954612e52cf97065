"""Charts over years: methane of the landfill year by year, and cost for each tonne."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.report import style
from planner.report.charts.drawing import Drawing, Spot, column_spots, is_narrow, tick_words
from planner.report.charts.ranges import limits, rows_in_words, with_value

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from planner.figures import Figure, FigureRegister
    from planner.report.wording import Wording

DRAWN_SHARE = 0.99
"""So much of the methane is drawn; what comes later is told in words."""

TICK_YEARS = 10
HEADROOM = 1.15
COST_WIDTH = 0.08
MOST_YEARS, NARROW_YEARS = 12, 5


def decay_drawing(register: FigureRegister, wording: Wording) -> Drawing | None:
    """Chart of the decay: the finding is by when half of the methane would have come."""
    by_year = with_value(register.parts("landfill_methane_avoided_by_year_t_co2e"))
    years = sorted(int(year) for year in by_year)
    if not years:
        return None
    found = limits({str(year): by_year[str(year)] for year in years})
    total = register["landfill_methane_avoided_100_years_t_co2e"]
    sums = np.cumsum(found[:, 0])
    if sums[-1] <= 0.0:
        return None
    half = years[int(np.searchsorted(sums, sums[-1] / 2.0))]
    most = int(np.searchsorted(sums, sums[-1] * DRAWN_SHARE))
    drawn = min(years[-1], (most // TICK_YEARS + 1) * TICK_YEARS)
    late = 1.0 - sums[drawn] / sums[-1]

    def plot(axes: Axes) -> None:
        shown = slice(0, drawn + 1)
        band = found[shown, 1], found[shown, 2]
        axes.fill_between(years[shown], *band, facecolor=style.BAND, **style.EDGED)
        axes.plot(years[shown], found[shown, 0], color=style.MAIN, linewidth=2.2)
        axes.set_xlim(0, drawn)
        axes.set_ylim(0.0, float(found[shown, 2].max()) * HEADROOM or 1.0)
        axes.set_xticks(np.arange(0, drawn + 1, TICK_YEARS))
        axes.set_xlabel(f"years after {register.reporting_year}")
        axes.set_ylabel("tonnes CO2-e in the year")
        axes.yaxis.set_major_formatter(lambda tick, _: tick_words(tick, wording))

    return Drawing(
        "decay_by_year",
        f"Half of the {wording.figure(total)} of landfill methane avoided would have come "
        f"{_within(half)}",
        f"Methane that the scraps of {register.reporting_year} would have given off in a landfill, "
        "net of gas capture and oxidation. The band shows the 95% interval of each year; steps "
        f"come from gas wells. {_later(late, wording)}",
        "Chart of landfill methane avoided by year after deposit, from the year itself to year "
        f"{drawn}. Most in year {years[int(found[:, 0].argmax())]}. "
        f"In all {wording.figure(total)}.",
        plot,
        section="details",
        spots=tuple(
            Spot(by_year[str(year)].id, said, x=(year - 0.5, year + 0.5))
            for year in years[: drawn + 1]
            for said in (f"year {year}: {wording.figure(by_year[str(year)])}",)
        ),
    )


def _within(years: int) -> str:
    if years == 0:
        return "in the year itself"
    return f"within {years} year{'s' if years > 1 else ''}"


def _later(late: float, wording: Wording) -> str:
    share = wording.share(late)
    if share == wording.share(0.0):
        return "Almost nothing would come later than is drawn."
    return f"{share} would come later than is drawn."


def costs_drawing(register: FigureRegister, wording: Wording) -> Drawing | None:
    """Chart of cost for each tonne kept out, from the start to the end of each year."""
    by_year = with_value(register.parts("cost_per_t_kept_out_through_year"))
    shown = dict(list(by_year.items())[-MOST_YEARS:])
    if len(shown) < 2:
        return None
    (first, begun), (last, now) = next(iter(shown.items())), list(shown.items())[-1]
    return Drawing(
        "cost_per_t_by_year",
        _cost_title(first, begun, last, now, wording),
        "All cost from the start to the end of each year, over all tonnes kept out by then: bins "
        "are paid once and work for years. Lines show the 95% interval.",
        f"Chart of program cost for each tonne kept out of landfill, from the start to the end of "
        f"each reporting year. {rows_in_words(shown, wording)}.",
        lambda axes: _plot_costs(axes, shown, wording),
        section="money",
        spots=column_spots(shown, wording),
    )


def _cost_title(first: str, begun: Figure, last: str, now: Figure, wording: Wording) -> str:
    has_fallen = now.high is not None and begun.low is not None and now.high < begun.low
    has_risen = now.low is not None and begun.high is not None and now.low > begun.high
    change = "fell" if has_fallen else "rose" if has_risen else ""
    if not change:
        return f"A tonne kept out has cost {wording.figure(now)} by the end of {last}"
    return (
        f"The cost of a tonne kept out {change} from {wording.plain(begun)} by the end of {first} "
        f"to {wording.plain(now)} by the end of {last}"
    )


def _plot_costs(axes: Axes, shown: dict[str, Figure], wording: Wording) -> None:
    found, places = limits(shown), np.arange(len(shown))
    heights = found[:, 2] - found[:, 1]
    axes.bar(places, heights, COST_WIDTH, found[:, 1], color=style.BAND, **style.EDGED)
    axes.plot(places, found[:, 0], color=style.MAIN, marker="o", linewidth=1.6, markersize=6)
    for place, figure, high in zip(places, shown.values(), found[:, 2], strict=True):
        words = wording.plain(figure)
        axes.annotate(words, (place, high), (0, 4), textcoords="offset points", ha="center")
    named = places[::-1][:: 1 + len(shown) // NARROW_YEARS * is_narrow(axes)][::-1]
    axes.set_xticks(named, [list(shown)[place] for place in named])
    axes.set_xlim(-0.5, len(shown) - 0.5)
    axes.set_ylim(0.0, float(found[:, 2].max()) * HEADROOM)
    axes.set_ylabel(f"{wording.currency} for each tonne, from the start")
    axes.yaxis.set_major_formatter(lambda tick, _: tick_words(tick, wording))
