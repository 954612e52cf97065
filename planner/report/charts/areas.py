"""Chart of the tonnes kept out of landfill in each area."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.messages import paper
from planner.report import style
from planner.report.charts.drawing import Drawing, is_narrow, row_spots, tick_words
from planner.report.wording import listing

if TYPE_CHECKING:
    from collections.abc import Mapping

    from matplotlib.axes import Axes

    from planner.figures import Figure, FigureRegister
    from planner.report.wording import Wording

MOST_AREAS = 30
LONGEST_NAME, NARROW_NAME = 32, 20
INCHES_PER_AREA = 0.21
RANGE_SHARE = 0.5
"""Height of an interval's bar over that of its row."""

AXIS_INCHES = 0.7
LEAST_AREA_ROWS = 2


def areas_drawing(
    register: FigureRegister, area_names: Mapping[str, str], wording: Wording
) -> Drawing:
    """Chart of areas, most first; areas that are not shown are named under it."""
    areas = register.parts("kept_out_of_landfill_t")
    shown = {
        area_names.get(area_id, area_id): figure
        for area_id, figure in areas.items()
        if figure.value is not None
    }
    ranked = dict(sorted(shown.items(), key=lambda item: (-(item[1].value or 0.0), item[0])))
    drawn = dict(list(ranked.items())[:MOST_AREAS])
    hidden = sorted(area_names.get(a, a) for a, f in areas.items() if f.value is None)

    def plot(axes: Axes) -> None:
        _plot_areas(axes, drawn, wording)

    rows = max(LEAST_AREA_ROWS, len(drawn))
    return Drawing(
        "kept_out_by_area",
        _title(register.reporting_year, drawn, wording),
        _caption(ranked, hidden),
        _alt_text(ranked, drawn, hidden, wording),
        plot,
        AXIS_INCHES + INCHES_PER_AREA * rows,
        section="areas",
        spots=row_spots(drawn, wording),
    )


def _title(label: str, ranked: dict[str, Figure], wording: Wording) -> str:
    if not ranked:
        return paper().say("chart.map.none", label=label)
    (first, most), *others = ranked.items()
    found = paper().say("chart.areas.most", first=first, year=label, amount=wording.figure(most))
    if not others:
        return paper().say("chart.areas.one", first=first, amount=wording.figure(most), year=label)
    level = [
        name
        for name, other in others
        if other.high is not None and most.low is not None and other.high >= most.low
    ]
    if not level:
        return found
    if len(level) == 1:
        return paper().say("chart.areas.overlaps_one", found=found, name=level[0])
    return paper().say("chart.areas.overlaps", found=found, level=len(level))


def _caption(ranked: dict[str, Figure], hidden: list[str]) -> str:
    words = paper().say("chart.areas.caption")
    if len(ranked) > MOST_AREAS:
        more = len(ranked) - MOST_AREAS
        words += " " + paper().say("chart.areas.drawn", drawn=MOST_AREAS, more=more)
    if hidden:
        words += " " + paper().say("chart.hidden", names=listing(hidden))
    return words


def _alt_text(
    ranked: dict[str, Figure], drawn: dict[str, Figure], hidden: list[str], wording: Wording
) -> str:
    rows_in_words = "; ".join(f"{name} {wording.figure(figure)}" for name, figure in drawn.items())
    words = paper().say("chart.areas.alt", areas=rows_in_words)
    if not drawn:
        words = paper().say("chart.areas.alt_none")
    if len(ranked) > len(drawn):
        words += " " + paper().say("chart.areas.not_drawn", more=len(ranked) - len(drawn))
    if hidden:
        words += " " + paper().say("chart.hidden", names=listing(hidden))
    return words


def _plot_areas(axes: Axes, drawn: dict[str, Figure], wording: Wording) -> None:
    places = np.arange(len(drawn))[::-1]
    value, low, high = (
        np.array([getattr(figure, name) for figure in drawn.values()], dtype=float)
        for name in ("value", "low", "high")
    )
    axes.barh(places, high - low, RANGE_SHARE, low, color=style.BAND, **style.EDGED)
    axes.plot(value, places, linestyle="none", marker="o", color=style.MAIN, markersize=6)
    for place, end, figure in zip(places, high, drawn.values(), strict=True):
        axes.annotate(
            wording.amount(figure), (end, place), (6, 0), textcoords="offset points", va="center"
        )
    longest = NARROW_NAME if is_narrow(axes) else LONGEST_NAME
    axes.set_yticks(places, [shortened(name, longest) for name in drawn])
    axes.tick_params(axis="y", length=0)
    axes.spines["left"].set_visible(False)
    axes.set_ylim(-0.8, max(LEAST_AREA_ROWS, len(drawn)) - 0.2)
    axes.set_xlim(0.0, float(max(high, default=1.0)) * 1.14 or 1.0)
    axes.set_xlabel(paper().say("chart.tonnes_in_year"))
    axes.xaxis.set_major_formatter(lambda tick, _: tick_words(tick, wording))


def shortened(name: str, longest: int) -> str:
    """Cut a name that is too long for its place."""
    return name if len(name) <= longest else f"{name[: longest - 1]}…"
