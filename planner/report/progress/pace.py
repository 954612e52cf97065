"""Chart of the pace: tonnes so far, the target, and where the year may end."""

from __future__ import annotations

from itertools import accumulate
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from planner.messages import paper
from planner.report import style
from planner.report.charts.drawing import Drawing, cased, is_narrow, tick_words
from planner.units import MONTHS_PER_YEAR

if TYPE_CHECKING:
    import datetime as dt

    from matplotlib.axes import Axes
    from numpy.typing import NDArray

    from planner.figures import FigureRegister
    from planner.report.wording import Wording

FAN = ((2.5, 97.5, style.BAND), (10.0, 90.0, style.BAND_80), (25.0, 75.0, style.BAND_50))
"""Low and high percentile of each band of the fan, the widest first, and its colour."""

HEADROOM = 1.1


class Pace(NamedTuple):
    """What the chart is drawn of.

    Parameters
    ----------
    register
        Tonnes of each month recorded.
    start
        First day of the year.
    forecast_t
        Draws of the year's total, shape (1 + draws_count,).
    target_t
        Target of the year; None where there is none.
    """

    register: FigureRegister
    start: dt.date
    forecast_t: NDArray[np.float64]
    target_t: float | None


def pace_drawing(pace: Pace, title: str, wording: Wording) -> Drawing:
    """Chart tonnes added up by month, with a fan to the year's end.

    The fan is exact at the end of the year; on the way there it widens evenly.
    """
    so_far = _so_far(pace)

    def plot(axes: Axes) -> None:
        months = np.arange(len(so_far))
        _plot_fan(axes, pace, len(so_far) - 1, so_far[-1])
        axes.plot(months, so_far, color=style.MAIN, linewidth=2.6)
        axes.annotate(
            paper().say(
                "progress.chart.so_far", tonnes=wording.number(so_far[-1], so_far[-1] < 10.0)
            ),
            (months[-1], so_far[-1]),
            (8, -10),
            textcoords="offset points",
            ha="left",
            weight="bold",
        )
        _label_axes(axes, pace, wording)

    words = paper().say(
        "progress.chart.alt",
        title=title,
        tonnes=wording.number(so_far[-1], 1),
        months=len(so_far) - 1,
    )
    return Drawing("pace", title, _caption(pace), words, plot, section="pace")


def _so_far(pace: Pace) -> list[float]:
    first = f"{pace.start:%Y-%m}"
    months = pace.register.parts("kept_out_of_landfill_t_in_month")
    of_year = [one.value or 0.0 for month, one in months.items() if month >= first]
    return list(accumulate(of_year, initial=0.0))


def _plot_fan(axes: Axes, pace: Pace, now: int, tonnes: float) -> None:
    ends = [now, MONTHS_PER_YEAR]
    for low, high, colour in FAN:
        least, most = np.percentile(pace.forecast_t[1:], (low, high))
        axes.fill_between(ends, [tonnes, least], [tonnes, most], facecolor=colour, **style.WITHIN)
    axes.plot(ends, [tonnes, pace.forecast_t[0]], color=style.INK, linewidth=1.2)


def _label_axes(axes: Axes, pace: Pace, wording: Wording) -> None:
    most = float(np.percentile(pace.forecast_t[1:], 97.5))
    if pace.target_t is not None:
        line = [0.0, pace.target_t]
        axes.plot(
            [0, MONTHS_PER_YEAR],
            line,
            color=style.ACCENT,
            linewidth=2,
            linestyle="--",
            path_effects=cased(2.0),
        )
        axes.annotate(
            paper().say("progress.chart.target", target=wording.number(pace.target_t, 0)),
            (MONTHS_PER_YEAR, pace.target_t),
            (5, 0),
            textcoords="offset points",
            color=style.ACCENT,
            weight="bold",
            va="center",
        )
    shown = range(0, MONTHS_PER_YEAR + 1, 4 if is_narrow(axes) else 2)
    axes.set_xticks(shown, [_month(pace.start, place, wording) for place in shown])
    axes.set_xlim(0, MONTHS_PER_YEAR)
    axes.set_ylim(0.0, max(most, pace.target_t or 0.0) * HEADROOM or 1.0)
    axes.set_ylabel(paper().say("progress.chart.axis"))
    axes.yaxis.set_major_formatter(lambda tick, _: tick_words(tick, wording))


def _month(start: dt.date, place: int, wording: Wording) -> str:
    month = start.month - 1 + place
    return wording.month(f"{start.year + month // 12}-{month % 12 + 1:02d}").replace(" ", "\n")


def _caption(pace: Pace) -> str:
    words = paper().say("progress.chart.fan")
    if pace.target_t is not None:
        words += " " + paper().say("progress.chart.dashed")
    return words
