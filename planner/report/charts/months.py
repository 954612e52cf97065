"""Chart of the tonnes kept out of landfill in each month, with the pace of the target."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from itertools import groupby
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from planner.figures import Figure, FigureRegister
from planner.messages import said
from planner.report import style
from planner.report.charts.drawing import (
    Drawing,
    column_spots,
    is_narrow,
    name_target,
    tick_words,
    with_white_edge,
)
from planner.report.charts.ranges import columns_of
from planner.report.targets import chance_of, pace_words, verdict
from planner.report.wording import Wording, listing
from planner.units import MONTHS_PER_YEAR

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    Span = tuple[int, int]
    """First and last place among the months."""


MOST_BARS = 36
"""With more months, a line in a band reads better than bars."""

TICK_STEPS: tuple[int, ...] = (1, 2, 3, 6, *range(12, 1201, 12))


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
        plot_lanes(axes, lanes, top * 1.12 or 1.0)

    return Drawing(
        "kept_out_by_month",
        _title(register, total, target_t, wording),
        _caption(months, pace_t) + caption_of(lanes),
        _alt_text(months, total, target_t, wording) + in_words(lanes, list(months), wording),
        plot,
        style.CHART_HEIGHT_INCHES + 0.16 * len(lanes),
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
        stands = pace_words(chance, wording)
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
    axes.hlines(pace_t, start, len(months) - 0.5, path_effects=with_white_edge(1.6), **looks)
    words = said("chart.months.pace", pace=_tonnes(pace_t, wording))
    name_target(axes, words, len(months) - 0.5, pace_t)


def _tick_step(names: list[str], *, is_narrow: bool) -> int:
    """Months between ticks: a step that readers know, wide enough for the names.

    Names without a break, as 6/2026, stand on one line and need more room.
    """
    fits = 13 if all(" " in name for name in names) else 9
    fits = fits // 2 if is_narrow else fits
    return min(step for step in TICK_STEPS if len(names) <= step * fits)


def _tonnes(tonnes: float, wording: Wording) -> str:
    places = 0 if float(tonnes).is_integer() else 2
    return f"{wording.number(tonnes, places)} t"


COLD_C, HOT_C = 10.0, 25.0
"""Monthly means of the air below and above which worms feed less [°C].

They feed fastest from 15 to 25 °C (edwards_1995) and not at all at 4 °C (edwards_2004, Table
18.3): on a line between, at less than half their pace below 10 °C.
"""


class Lane(NamedTuple):
    """Something that goes on or happens while the months go by."""

    name: str  # what, by the end of its key in the message files
    spans: tuple[Span, ...] = ()  # months in which it goes on
    marks: tuple[float, ...] = ()  # places at which it happens, as of a first month that is 0
    days: tuple[dt.date, ...] = ()  # when that is


def lanes_of(
    register: FigureRegister,
    months: Sequence[str],
    mean_c: Sequence[float],
    rounds: Iterable[dt.date],
) -> tuple[Lane, ...]:
    """Find what happened in the months of a chart, as "2025-07", and in no other.

    A month whose count of bins is hidden is one in which bins were given. `mean_c` is the monthly
    mean of the air, January first, shape (12,) [°C]; `rounds` are the days on which rounds opened.
    """
    given = register.parts("bins_given_in_month")
    warmth = [mean_c[int(month[5:]) - 1] for month in months] if len(mean_c) else []
    days = tuple(sorted({day for day in rounds if f"{day:%Y-%m}" in months}))
    # a month's bar has its place in the middle
    places = tuple(months.index(f"{day:%Y-%m}") - 0.5 + (day.day - 1) / 31.0 for day in days)
    found = (
        Lane("given", _spans([m in given and given[m].value != 0.0 for m in months])),
        Lane("survey", (), places, days),
        Lane("cold", _spans([degrees < COLD_C for degrees in warmth])),
        Lane("hot", _spans([degrees > HOT_C for degrees in warmth])),
    )
    return tuple(lane for lane in found if lane.spans or lane.marks)


def _spans(is_on: Sequence[bool]) -> tuple[Span, ...]:
    """Find the runs of months in which something is so; none where it always is.

    Examples
    --------
    >>> _spans([False, True, True, False, True])
    ((1, 2), (4, 4))
    """
    if all(is_on):
        return ()
    runs = [list(run) for _, run in groupby(enumerate(is_on), lambda one: one[1])]
    return tuple((run[0][0], run[-1][0]) for run in runs if run[0][1])


def caption_of(lanes: Sequence[Lane]) -> str:
    """Say how to read the lanes."""
    told = {
        "given": said("chart.lane.given.means"),
        "survey": said("chart.lane.survey.means"),
        "cold": said("chart.lane.cold.means", degrees=int(COLD_C)),
        "hot": said("chart.lane.hot.means", degrees=int(HOT_C)),
    }
    words = listing((told[lane.name] for lane in lanes), len(told))
    return " " + said("chart.lane.above", lanes=words) if words else ""


def in_words(lanes: Sequence[Lane], months: Sequence[str], wording: Wording) -> str:
    """Say what the lanes show, for those who cannot see them."""
    words = ""
    for lane in lanes:
        spans = [_between(*(wording.month(months[place]) for place in span)) for span in lane.spans]
        told = spans or list(dict.fromkeys(wording.month(f"{day:%Y-%m}") for day in lane.days))
        name = _name(lane)
        name = name[:1].upper() + name[1:]
        words += " " + said("chart.lane.told", lane=name, months=listing(told, 6))
    return words


def _name(lane: Lane) -> str:
    return said(f"chart.lane.{lane.name}")


def _between(first: str, last: str) -> str:
    return first if first == last else said("number.from_to", low=first, high=last)


def plot_lanes(axes: Axes, lanes: Sequence[Lane], top: float) -> None:
    """Draw the lanes above a chart that goes from nothing to `top`."""
    axes.set_ylim(0.0, top)
    # the axis ends where the chart does
    axes.set_yticks([tick for tick in axes.get_yticks() if tick <= top])
    height = 0.085 * top
    for place, lane in enumerate(reversed(lanes)):
        middle = top + (place + 0.5) * height
        starts = [first - 0.36 for first, _ in lane.spans]
        widths = [last - first + 0.72 for first, last in lane.spans]
        axes.barh([middle] * len(starts), widths, 0.42 * height, starts, color=style.MUTED)
        axes.plot(lane.marks, [middle] * len(lane.marks), "v", color=style.INK, markersize=5)
        looks: dict[str, Any] = {"ha": "right", "va": "center", "size": 7.5}
        axes.text(-0.012, middle, _name(lane), transform=axes.get_yaxis_transform(), **looks)
    axes.set_ylim(0.0, top + len(lanes) * height)
