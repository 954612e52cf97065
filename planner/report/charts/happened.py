"""What happened while months went by, in lanes above their chart: it explains most bends."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING, Any, NamedTuple

from planner.messages import said
from planner.report import style
from planner.report.wording import listing

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterable, Sequence

    from matplotlib.axes import Axes

    from planner.figures import FigureRegister
    from planner.report.wording import Wording

    Span = tuple[int, int]
    """First and last place among the months."""

COLD_C, HOT_C = 10.0, 25.0
"""Monthly means of the air below and above which worms feed less [°C].

They feed fastest from 15 to 25 °C (edwards_1995) and not at all at 4 °C (edwards_2004, Table
18.3): on a line between, at less than half their pace below 10 °C.
"""

LANE_SHARE, BAR_SHARE = 0.085, 0.42
"""Height of a lane over that of the chart, and of its bars over the lane's."""

NAME_AT, NAME_POINTS = -0.012, 7.5
MOST_TOLD = 6


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
        words += " " + said("chart.lane.told", lane=name, months=listing(told, MOST_TOLD))
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
    height = LANE_SHARE * top
    for place, lane in enumerate(reversed(lanes)):
        middle = top + (place + 0.5) * height
        starts = [first - 0.36 for first, _ in lane.spans]
        widths = [last - first + 0.72 for first, last in lane.spans]
        axes.barh([middle] * len(starts), widths, BAR_SHARE * height, starts, color=style.MUTED)
        axes.plot(lane.marks, [middle] * len(lane.marks), "v", color=style.INK, markersize=5)
        looks: dict[str, Any] = {"ha": "right", "va": "center", "size": NAME_POINTS}
        axes.text(NAME_AT, middle, _name(lane), transform=axes.get_yaxis_transform(), **looks)
    axes.set_ylim(0.0, top + len(lanes) * height)
