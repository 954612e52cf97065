"""Rows of values with their intervals, and of bars from nothing, labelled directly."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

import numpy as np

from planner.report import style
from planner.report.charts.drawing import is_narrow, tick_words
from planner.report.wording import labelled

if TYPE_CHECKING:
    from collections.abc import Mapping

    from matplotlib.axes import Axes
    from numpy.typing import NDArray

    from planner.figures import Figure
    from planner.report.wording import Wording

NARROW_NAME = 19
"""Characters of a row's name on a line of a narrow chart."""

INCHES_PER_ROW = 0.33
RANGE_SHARE = 0.3
"""Height of an interval's bar over that of its row."""

AXIS_INCHES = 0.75
NARROW_UNIT, NARROW_TICKS = 34, 4

ROOM_FOR_WORDS = 0.12
"""Share of the axis kept free beyond the last interval, for the words there."""


def rows_inches(count: int) -> float:
    """Height of a chart of as many rows."""
    return AXIS_INCHES + INCHES_PER_ROW * max(2, count)


def limits(figures: Mapping[str, Figure]) -> NDArray[np.float64]:
    """Value, low and high of each figure, shape (figures, 3); without interval the value."""
    return np.array(
        [
            [f.value, f.value if f.low is None else f.low, f.value if f.high is None else f.high]
            for f in figures.values()
        ],
        dtype=float,
    )


def plot_ranges(axes: Axes, figures: Mapping[str, Figure], unit: str, wording: Wording) -> None:
    """Draw a dot and its interval on each row, first figure uppermost."""
    found, places = limits(figures), np.arange(len(figures))[::-1]
    widths = found[:, 2] - found[:, 1]
    axes.barh(places, widths, RANGE_SHARE, found[:, 1], color=style.BAND, **style.EDGED)
    axes.plot(found[:, 0], places, linestyle="none", marker="o", color=style.MAIN, markersize=6)
    highest = found.max(axis=1)
    ends = np.where(highest < 0.0, found.min(axis=1), highest)
    _finish_rows(axes, figures, found, ends, unit, wording)


def plot_bars(axes: Axes, figures: Mapping[str, Figure], unit: str, wording: Wording) -> None:
    """Draw a bar from nothing on each row, with its interval, first figure uppermost."""
    found, places = limits(figures), np.arange(len(figures))[::-1]
    colours = np.where(found[:, 0] < 0.0, style.BAND, style.FILL)
    axes.barh(places, found[:, 0], height=0.62, color=list(colours), **style.EDGED)
    axes.hlines(places, found[:, 1], found[:, 2], color=style.INK, linewidth=1.1)
    # a number is at the end of its own bar: to the left of one that points left
    ends = np.where(found[:, 0] < 0.0, found.min(axis=1), found.max(axis=1))
    _finish_rows(axes, figures, found, ends, unit, wording)


def _finish_rows(
    axes: Axes,
    figures: Mapping[str, Figure],
    found: NDArray[np.float64],
    ends: NDArray[np.float64],
    unit: str,
    wording: Wording,
) -> None:
    places = np.arange(len(figures))[::-1]
    for place, end, figure in zip(places, ends, figures.values(), strict=True):
        is_left = end < 0.0
        axes.annotate(
            wording.plain(figure),
            (end, place),
            (-6 if is_left else 6, 0),
            textcoords="offset points",
            va="center",
            ha="right" if is_left else "left",
        )
    names = [textwrap.fill(name, NARROW_NAME) if is_narrow(axes) else name for name in figures]
    axes.set_yticks(places, names)
    axes.tick_params(axis="y", length=0)
    axes.spines["left"].set_visible(False)
    axes.set_ylim(-0.7, len(figures) - 0.3)
    low, high = min(0.0, float(found.min())), max(0.0, float(found.max()))
    reach = (high - low) or 1.0
    room_left = ROOM_FOR_WORDS if bool((ends < 0.0).any()) else 0.03 * (low < 0.0)
    axes.set_xlim(low - room_left * reach, high + ROOM_FOR_WORDS * reach)
    axes.axvline(0.0, color=style.INK, linewidth=0.8)
    axes.set_xlabel(textwrap.fill(unit, NARROW_UNIT) if is_narrow(axes) else unit)
    if is_narrow(axes):
        axes.locator_params(axis="x", nbins=NARROW_TICKS)
    axes.xaxis.set_major_formatter(lambda tick, _: _tick(tick, unit, wording))


def _tick(tick: float, unit: str, wording: Wording) -> str:
    return wording.share(tick) if unit.startswith("share") else tick_words(tick, wording)


def rows_in_words(figures: Mapping[str, Figure], wording: Wording) -> str:
    """Say every row in words."""
    return "; ".join(labelled(name, wording.figure(figure)) for name, figure in figures.items())


def with_value(figures: Mapping[str, Figure]) -> dict[str, Figure]:
    """Keep those that are shown."""
    return {name: figure for name, figure in figures.items() if figure.value is not None}
