"""Rows of values with their intervals, and of bars from nothing; the chart of areas."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterable, Mapping
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np

from planner.arrays import Numbers
from planner.figures import Figure, FigureRegister
from planner.messages import said
from planner.report import style
from planner.report.charts.drawing import Drawing, is_narrow, row_spots, tick_words
from planner.report.wording import Wording, labelled, listing

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Plot: TypeAlias = "Callable[[Axes, Mapping[str, Figure], str, Wording], None]"


MOST_AREAS = 30
LEAST_AREA_ROWS = 2

ROOM_FOR_WORDS = 0.12
"""Share of the axis kept free beyond the last interval, for the words there."""


def rows_inches(count: int) -> float:
    """Height of a chart of as many rows."""
    return 0.75 + 0.33 * max(2, count)


def limits(figures: Mapping[Any, Figure]) -> Numbers:
    """Value, low and high of each figure, shape (figures, 3); without interval the value."""
    return np.array(
        [
            [f.value, f.value if f.low is None else f.low, f.value if f.high is None else f.high]
            for f in figures.values()
        ],
        dtype=float,
    )


def columns_of(figures: Iterable[Figure]) -> Numbers:
    """Value, low and high of each figure, shape (3, figures); not a number where there is none."""
    return np.array([(f.value, f.low, f.high) for f in figures], dtype=float).reshape(-1, 3).T


def plot_ranges(axes: Axes, figures: Mapping[str, Figure], unit: str, wording: Wording) -> None:
    """Draw a dot and its interval on each row, first figure uppermost."""
    found, places = limits(figures), np.arange(len(figures))[::-1]
    widths = found[:, 2] - found[:, 1]
    axes.barh(places, widths, 0.3, found[:, 1], color=style.BAND, **style.EDGED)
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
    found: Numbers,
    ends: Numbers,
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
    names = [textwrap.fill(name, 19) if is_narrow(axes) else name for name in figures]
    axes.set_yticks(places, names)
    axes.tick_params(axis="y", length=0)
    axes.spines["left"].set_visible(False)
    axes.set_ylim(-0.7, len(figures) - 0.3)
    low, high = min(0.0, float(found.min())), max(0.0, float(found.max()))
    reach = (high - low) or 1.0
    room_left = ROOM_FOR_WORDS if bool((ends < 0.0).any()) else 0.03 * (low < 0.0)
    axes.set_xlim(low - room_left * reach, high + ROOM_FOR_WORDS * reach)
    axes.axvline(0.0, color=style.INK, linewidth=0.8)
    axes.set_xlabel(textwrap.fill(unit, 34) if is_narrow(axes) else unit)
    if is_narrow(axes):
        axes.locator_params(axis="x", nbins=4)
    are_shares = any(figure.unit == "share" for figure in figures.values())
    axes.xaxis.set_major_formatter(
        lambda tick, _: wording.share(tick) if are_shares else tick_words(tick, wording)
    )


def rows_in_words(figures: Mapping[str, Figure], wording: Wording) -> str:
    """Say every row in words."""
    return "; ".join(labelled(name, wording.figure(figure)) for name, figure in figures.items())


def with_value(figures: Mapping[str, Figure]) -> dict[str, Figure]:
    """Keep those that are shown."""
    return {name: figure for name, figure in figures.items() if figure.value is not None}


def rows_drawing(
    name: str,
    words: tuple[str, str, str, str],
    figures: Mapping[str, Figure],
    wording: Wording,
    plot: Plot = plot_bars,
    section: str = "",
) -> Drawing:
    """Chart with a row a figure; its words are title, caption, alternative text and unit."""
    title, caption, alt_text, unit = words
    return Drawing(
        name,
        title,
        caption,
        alt_text,
        lambda axes: plot(axes, figures, unit, wording),
        rows_inches(len(figures)),
        section,
        row_spots(figures, wording),
    )


def areas_drawing(
    register: FigureRegister, area_names: Mapping[str, str], wording: Wording
) -> Drawing:
    """Chart of areas, most first; areas that are not shown are named under it."""
    areas = register.parts("kept_out_of_landfill_t")
    named = {area_names.get(area_id, area_id): figure for area_id, figure in areas.items()}
    shown = with_value(named)
    ranked = dict(sorted(shown.items(), key=lambda item: (-(item[1].value or 0.0), item[0])))
    drawn = dict(list(ranked.items())[:MOST_AREAS])
    hidden = sorted(named.keys() - shown.keys())
    rows = max(LEAST_AREA_ROWS, len(drawn))
    return Drawing(
        "kept_out_by_area",
        _title(register.reporting_year, drawn, wording),
        _caption(ranked, hidden),
        _alt_text(ranked, drawn, hidden, wording),
        lambda axes: _plot_areas(axes, drawn, wording),
        0.7 + 0.21 * rows,
        section="areas",
        spots=row_spots(drawn, wording),
    )


def _title(label: str, ranked: dict[str, Figure], wording: Wording) -> str:
    if not ranked:
        return said("chart.map.none", label=label)
    (first, most), *others = ranked.items()
    found = said("chart.areas.most", first=first, year=label, amount=wording.figure(most))
    if not others:
        return said("chart.areas.one", first=first, amount=wording.figure(most), year=label)
    level = [name for name, other in others if reaches(other, most)]
    if not level:
        return found
    if len(level) == 1:
        return said("chart.areas.overlaps_one", found=found, name=level[0])
    return said("chart.areas.overlaps", found=found, level=len(level))


def _caption(ranked: dict[str, Figure], hidden: list[str]) -> str:
    words = said("chart.areas.caption")
    if len(ranked) > MOST_AREAS:
        more = len(ranked) - MOST_AREAS
        words += " " + said("chart.areas.drawn", drawn=MOST_AREAS, more=more)
    if hidden:
        words += " " + said("chart.hidden", names=listing(hidden))
    return words


def _alt_text(
    ranked: dict[str, Figure], drawn: dict[str, Figure], hidden: list[str], wording: Wording
) -> str:
    rows_in_words = "; ".join(f"{name} {wording.figure(figure)}" for name, figure in drawn.items())
    words = said("chart.areas.alt", areas=rows_in_words)
    if not drawn:
        words = said("chart.areas.alt_none")
    if len(ranked) > len(drawn):
        words += " " + said("chart.areas.not_drawn", more=len(ranked) - len(drawn))
    if hidden:
        words += " " + said("chart.hidden", names=listing(hidden))
    return words


def _plot_areas(axes: Axes, drawn: dict[str, Figure], wording: Wording) -> None:
    places = np.arange(len(drawn))[::-1]
    value, low, high = columns_of(drawn.values())
    axes.barh(places, high - low, 0.5, low, color=style.BAND, **style.EDGED)
    axes.plot(value, places, linestyle="none", marker="o", color=style.MAIN, markersize=6)
    for place, end, figure in zip(places, high, drawn.values(), strict=True):
        axes.annotate(
            wording.amount(figure), (end, place), (6, 0), textcoords="offset points", va="center"
        )
    longest = 20 if is_narrow(axes) else 32
    axes.set_yticks(places, [shortened(name, longest) for name in drawn])
    axes.tick_params(axis="y", length=0)
    axes.spines["left"].set_visible(False)
    axes.set_ylim(-0.8, max(LEAST_AREA_ROWS, len(drawn)) - 0.2)
    axes.set_xlim(0.0, float(max(high, default=1.0)) * 1.14 or 1.0)
    axes.set_xlabel(said("chart.chain.axis"))
    axes.xaxis.set_major_formatter(lambda tick, _: tick_words(tick, wording))


def reaches(other: Figure, most: Figure) -> bool:
    """Whether the interval of a figure reaches that of the one with the most."""
    return other.high is not None and most.low is not None and other.high >= most.low


def shortened(name: str, longest: int) -> str:
    """Cut a name that is too long for its place."""
    return name if len(name) <= longest else f"{name[: longest - 1]}…"
