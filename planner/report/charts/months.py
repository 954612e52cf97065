"""Chart of the tonnes kept out of landfill in each month, with the pace of the target."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from planner.messages import said
from planner.report import style
from planner.report.charts.drawing import (
    Drawing,
    cased,
    column_spots,
    is_narrow,
    name_target,
    tick_words,
)
from planner.report.charts.happened import caption_of, in_words, lanes_of, plot_lanes
from planner.report.charts.ranges import columns_of
from planner.report.targets import chance_of, standing, verdict
from planner.report.wording import listing
from planner.units import MONTHS_PER_YEAR

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterable, Sequence

    from matplotlib.axes import Axes

    from planner.figures import Figure, FigureRegister
    from planner.report.wording import Wording

MOST_BARS = 36
"""With more months, a line in a band reads better than bars."""

MOST_TICKS = 13
MOST_WIDE_TICKS = 9
TICK_STEPS: tuple[int, ...] = (1, 2, 3, 6, *range(12, 1201, 12))
HEADROOM = 1.12
INCHES_PER_LANE = 0.16


def months_drawing(
    register: FigureRegister,
    target_t: float | None,
    wording: Wording,
    mean_c: Sequence[float] = (),
    rounds: Iterable[dt.date] = (),
) -> Drawing:
    """Chart of months: the finding is the year's total and how it stands to the target.

    `mean_c` is the monthly mean of the air, January first, and `rounds` the days on which survey
    rounds opened: with the bins given they say why the months differ.
    """
    months = register.parts("kept_out_of_landfill_t_in_month")
    total = register["kept_out_of_landfill_t"]
    pace_t = None if target_t is None else target_t / MONTHS_PER_YEAR
    lanes = lanes_of(register, list(months), mean_c, rounds)

    def plot(axes: Axes) -> None:
        _plot_months(axes, months, wording)
        if pace_t is not None:
            _plot_pace(axes, months, pace_t, wording)
        top = max([*(month.high or 0.0 for month in months.values()), pace_t or 0.0])
        plot_lanes(axes, lanes, top * HEADROOM or 1.0)

    return Drawing(
        "kept_out_by_month",
        _title(register, total, target_t, wording),
        _caption(months, pace_t) + caption_of(lanes),
        _alt_text(months, total, target_t, wording) + in_words(lanes, list(months), wording),
        plot,
        style.CHART_HEIGHT_INCHES + INCHES_PER_LANE * len(lanes),
        section="results",
        spots=column_spots({wording.month(name): one for name, one in months.items()}, wording),
    )


def _title(
    register: FigureRegister, total: Figure, target_t: float | None, wording: Wording
) -> str:
    label = register.reporting_year
    found = said("chart.months.title", amount=wording.figure(total), year=label)
    if target_t is None:
        return found
    wanted = _tonnes(target_t, wording)
    result, chance = verdict(register, total.id, target_t), chance_of(register, total.id)
    if result is None:
        if not chance:
            return found
        stands = standing(chance, wording)
        return said("chart.months.running", found=found, target=wanted, standing=stands)
    return said(f"chart.months.{result}", found=found, target=wanted)


def _caption(months: dict[str, Figure], pace_t: float | None) -> str:
    has_bars = len(months) <= MOST_BARS
    words = [said("chart.months.bars" if has_bars else "chart.months.band")]
    if len(months) > MONTHS_PER_YEAR:
        words.append(said("chart.months.hollow" if has_bars else "chart.months.thinner"))
    if any(month.value is None for month in months.values()):
        words.append(said("chart.months.without"))
    if pace_t is not None:
        words.append(said("chart.months.pace_is"))
    return " ".join(words)


def _alt_text(
    months: dict[str, Figure], total: Figure, target_t: float | None, wording: Wording
) -> str:
    names = list(months)
    words = [
        said("chart.months.alt", first=wording.month(names[0]), last=wording.month(names[-1])),
        *_extremes(months, wording),
        said("chart.months.last", amount=wording.figure(months[names[-1]])),
        said("chart.months.year", amount=wording.figure(total)),
    ]
    if target_t is not None:
        words.append(said("chart.months.target", target=_tonnes(target_t, wording)))
    return " ".join(words)


def _extremes(months: dict[str, Figure], wording: Wording) -> list[str]:
    """Name the least and the greatest of the months that are shown, and those that are not."""
    shown = {name: month.value for name, month in months.items() if month.value is not None}
    words = []
    if shown:
        least, most = min(shown, key=lambda m: shown[m]), max(shown, key=lambda m: shown[m])
        words = [
            said(f"chart.months.{key}", month=wording.month(m), amount=wording.figure(months[m]))
            for key, m in (("least", least), ("most", most))
        ]
    hidden = [wording.month(name) for name, month in months.items() if month.value is None]
    if hidden:
        words.append(said("chart.hidden", names=listing(hidden)))
    return words


def _plot_months(axes: Axes, months: dict[str, Figure], wording: Wording) -> None:
    places = np.arange(len(months))
    value, low, high = columns_of(months.values())
    is_in_year = places >= len(months) - MONTHS_PER_YEAR
    if len(months) <= MOST_BARS:
        # hollow, not paler: the years stay apart in grey print as well
        colours = list(np.where(is_in_year, style.FILL, style.PAPER))
        axes.bar(places, value, width=0.72, color=colours, **style.EDGED)
        axes.vlines(places, low, high, color=style.INK, linewidth=1.1)
    else:
        axes.fill_between(places, low, high, facecolor=style.BAND, **style.EDGED)
        axes.plot(places, value, color=style.MUTED, linewidth=1.2)
        axes.plot(places[is_in_year], value[is_in_year], color=style.MAIN, linewidth=2.4)
    names = [wording.month(month) for month in months]
    shown = places[::-1][:: _tick_step(names, is_narrow=is_narrow(axes))][::-1]
    axes.set_xticks(shown, [names[place].replace(" ", "\n") for place in shown])
    axes.set_ylabel(said("chart.months.axis"))
    axes.yaxis.set_major_formatter(lambda tick, _: tick_words(tick, wording))
    axes.set_xlim(-0.6, len(months) - 0.4)


def _plot_pace(axes: Axes, months: dict[str, Figure], pace_t: float, wording: Wording) -> None:
    start = max(0, len(months) - MONTHS_PER_YEAR) - 0.5
    looks: dict[str, Any] = {"color": style.ACCENT, "linewidth": 1.6}
    axes.hlines(pace_t, start, len(months) - 0.5, path_effects=cased(1.6), **looks)
    words = said("chart.months.pace", pace=_tonnes(pace_t, wording))
    name_target(axes, words, len(months) - 0.5, pace_t)


def _tick_step(names: list[str], *, is_narrow: bool) -> int:
    """Months between ticks: a step that readers know, wide enough for the names.

    Names without a break, as 6/2026, stand on one line and need more room.
    """
    fits = MOST_TICKS if all(" " in name for name in names) else MOST_WIDE_TICKS
    fits = fits // 2 if is_narrow else fits
    return min(step for step in TICK_STEPS if len(names) <= step * fits)


def _tonnes(tonnes: float, wording: Wording) -> str:
    places = 0 if float(tonnes).is_integer() else 2
    return f"{wording.number(tonnes, places)} t"
